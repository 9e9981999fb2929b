"""A yarn-level renderer: photos that own their truth.

Importing this package needs neither the path tracer nor the denoiser; drawing
a photo does (``pip install 'rimtally[render]'``).
"""

from counter.synthetic.dataset import render_set
from counter.synthetic.render import render_photo

__all__ = ["render_photo", "render_set"]
