"""What is served says what was trained: without torch, by ONNX's own reference implementation in numpy."""

import hashlib
import json
from importlib import resources

import cv2
import numpy as np
import onnx
import pytest
from onnx import TensorProto, helper, numpy_helper
from onnx.reference import ReferenceEvaluator
from scipy import ndimage

from counter.counting import band, model, prediction
from counter.training.half import write_halved

FOLDER = resources.files("counter.counting") / "weights"
NETWORKS = sorted(file.name.removesuffix(".onnx") for file in FOLDER.iterdir() if file.name.endswith(".onnx"))


def given_to(network, rng):
    """Something of the size that a network was written for; a band may be of any length."""
    size = [own.dim_value or 1 for own in network.graph.input[0].type.tensor_type.shape.dim]
    return rng.normal(size=[*size[:3], min(size[3], 640)]).astype(np.float32)


@pytest.mark.parametrize("name", NETWORKS)
def test_what_is_served_says_what_the_standard_says_of_the_same_weights(name):
    network = onnx.load_from_string((FOLDER / f"{name}.onnx").read_bytes())
    given = given_to(network, np.random.default_rng(1))
    # The reference implementation of the operators' definitions (ONNX, "onnx.reference").
    (said,) = ReferenceEvaluator(network).run(None, {network.graph.input[0].name: given})
    assert said.std() > 0.1
    np.testing.assert_allclose(model.predicted(name, given), said, atol=1e-3, rtol=1e-3)


def small_network(rng):
    """A convolution, what cuts off below 0, and another: what the trained ones are made of."""
    first, second = rng.normal(size=(5, 3, 3, 3)), rng.normal(size=(2, 5, 1, 3))
    weights = [
        numpy_helper.from_array(value.astype(np.float32), name)
        for name, value in (("first", first), ("second", second), ("bias", rng.normal(size=5)))
    ]
    nodes = [
        helper.make_node("Conv", ["given", "first", "bias"], ["a"], pads=[1, 1, 1, 1], strides=[2, 1]),
        helper.make_node("Relu", ["a"], ["b"]),
        helper.make_node("Conv", ["b", "second"], ["said"], pads=[0, 2, 0, 2], dilations=[1, 2]),
    ]
    tensor = helper.make_tensor_value_info
    graph = helper.make_graph(
        nodes, "small",
        [tensor("given", TensorProto.FLOAT, [1, 3, 8, 20])], [tensor("said", TensorProto.FLOAT, [1, 2, 4, 20])],
        weights,
    )  # fmt: skip
    return helper.make_model(graph, opset_imports=[helper.make_opsetid("", 17)], ir_version=8)


def test_weights_that_are_written_are_read_back(tmp_path):
    rng = np.random.default_rng(2)
    network, given = small_network(rng), rng.normal(size=(1, 3, 8, 20)).astype(np.float32)
    (before,) = ReferenceEvaluator(network).run(None, {"given": given})
    path = write_halved(network, tmp_path / "small.onnx", {"version": "test"})
    card = json.loads((tmp_path / "small.json").read_text(encoding="utf-8"))
    assert card == {"version": "test", "sha256": hashlib.sha256(path.read_bytes()).hexdigest()}
    assert {own.data_type for own in onnx.load(path).graph.initializer} == {TensorProto.FLOAT16}
    reader = cv2.dnn.readNetFromONNX(str(path))
    reader.setInput(given)
    said = reader.forward()
    (read,) = ReferenceEvaluator(str(path)).run(None, {"given": given})
    np.testing.assert_allclose(said, read, atol=1e-5)
    # Half precision keeps 11 bits of each weight (IEEE 754, binary16); 45 and 15 of them meet in one place.
    np.testing.assert_allclose(said, before, atol=2**-11 * 45 * np.abs(before).max())
    assert not np.array_equal(said, before)


def test_a_band_is_prepared_as_in_training():
    """The formula of :func:`counter.training.network.prepared`, written out with scipy instead of torch."""
    pixels = np.random.default_rng(3).integers(0, 256, (band.ROWS, 200, 3), np.uint8)
    colour = pixels / 255
    light = colour.mean(axis=2)
    mean, square = (ndimage.uniform_filter(own, band.NEARBY, mode="nearest") for own in (light, light**2))
    near = (light - mean) / (np.sqrt(np.maximum(square - mean**2, 0)) + band.FAINTEST)
    whole = (colour - colour.mean()) / (colour.std() + band.FAINTEST)
    np.testing.assert_allclose(
        prediction.network_input(pixels)[0], np.concatenate([whole.transpose(2, 0, 1), near[None]]), atol=1e-3
    )
