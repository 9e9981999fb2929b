"""A simulated thumb: it looks at the page as a person does, and touches it a few pixels beside where it wants to."""

from random import Random

from browsing import PACE


class Thumb:
    """Touches what it wants with a normal scatter.

    Parameters
    ----------
    page : Page
        Of a browser with a touch screen.
    scatter : float
        Standard deviation of each coordinate, in screen pixels.
    seed : int
    """

    def __init__(self, page, scatter: float = 5.0, seed: int = 1):
        self.page, self.scatter, self.random = page, scatter, Random(seed)
        self.taps = 0

    def touch(self, x: float, y: float) -> None:
        """Touch near a place of the screen."""
        self.taps += 1
        self.page.touchscreen.tap(x + self.random.gauss(0, self.scatter), y + self.random.gauss(0, self.scatter))

    def look(self) -> None:
        """Let what was touched have its effect, and see where things are now: no thumb is quicker."""
        self.page.wait_for_timeout(PACE)

    def tap(self, locator) -> None:
        """Touch near the middle of something, which is scrolled to where it isn't in sight."""
        self.look()
        locator.scroll_into_view_if_needed()
        box = locator.bounding_box()
        self.touch(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)

    # In the rim picture ----------------------------------------------------

    def places(self) -> list[tuple[float, float]]:
        """Where on the screen each mark of the photo is."""
        return self.page.locator(".stage .mark .dot").evaluate_all(
            "(all) => all.map((one) => one.getBoundingClientRect()).map((b) => [b.x + b.width / 2, b.y + b.height / 2])"
        )

    @property
    def chosen(self) -> str:
        """What the magnifier is over; empty where there is none."""
        title = self.page.locator(".loupe > b")
        return title.text_content() if title.is_visible() else ""

    def choose(self, number: int) -> None:
        """Choose a mark: touch it in the photo, look into the magnifier, and touch it there where it is another."""
        self.page.locator(".stage").evaluate("(e) => e.scrollIntoView({ block: 'center' })")
        for _ in range(10):
            self.look()
            if self.chosen and not self.chosen.split()[1].isdigit():
                self.tap(self.page.locator(".loupe .off"))  # it is between two marks
            elif not self.chosen:
                self.touch(*self.places()[number - 1])
            elif int(self.chosen.split()[1]) == number:
                return
            else:
                frame = self.page.locator(".loupe > svg").bounding_box()
                dot = self.page.locator(".loupe .copy").nth(number - 1).bounding_box()
                x, y = dot["x"] + dot["width"] / 2, dot["y"] + dot["height"] / 2
                left, right = x - frame["x"], frame["x"] + frame["width"] - x
                up, down = y - frame["y"], frame["y"] + frame["height"] - y
                # At its edge, and under the sign that closes it, a mark isn't touched: the arrows lead there.
                if min(left, right, up, down) > 18 and not (right < 60 and up < 60):
                    self.touch(x, y)
                else:
                    here = int(self.chosen.split()[1])
                    self.tap(self.page.locator(f".loupe .{'forth' if here < number else 'back'}"))
        raise AssertionError(f"mark {number} is out of reach: {self.chosen!r}")

    def remove(self, number: int) -> None:
        """Remove a mark."""
        self.choose(number)
        self.tap(self.page.locator(".loupe .remove"))
