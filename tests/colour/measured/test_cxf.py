"""CxF 3, written by hand with the element and attribute names of the published schema (as colour-cxf 0.1.1 carries them)."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from filmhand.colour.cielab import xyz_from_lab
from filmhand.colour.measured.cgats import patch_list
from filmhand.colour.measured.read import read_chart
from filmhand.colour.measured.unusable import UnusableChartError

CORE = "http://colorexchangeformat.com/CxF3-core"
FLAT = 0.84
BANDS = 36

SPECTRUM = '<cc:ReflectanceSpectrum ColorSpecification="CS1" StartWL="380">{}</cc:ReflectanceSpectrum>'
LAB = '<cc:ColorCIELab ColorSpecification="{}"><cc:L>{}</cc:L><cc:A>{}</cc:A><cc:B>{}</cc:B></cc:ColorCIELab>'
XYZ = '<cc:ColorCIEXYZ ColorSpecification="CS1"><cc:X>{}</cc:X><cc:Y>{}</cc:Y><cc:Z>{}</cc:Z></cc:ColorCIEXYZ>'
CMYK = "<cc:Cyan>{}</cc:Cyan><cc:Magenta>{}</cc:Magenta><cc:Yellow>{}</cc:Yellow><cc:Black>{}</cc:Black>"
SPOT = "<cc:SpotColor><cc:Name>{}</cc:Name><cc:Percentage>{}</cc:Percentage></cc:SpotColor>"


def thing(name: str, *, colours: str = "", device: str = "", kind: str = "Target") -> str:
    """One object."""
    colours = f"<cc:ColorValues>{colours}</cc:ColorValues>" if colours else ""
    device = f"<cc:DeviceColorValues>{device}</cc:DeviceColorValues>" if device else ""
    date = "<cc:CreationDate>2020-01-01T00:00:00Z</cc:CreationDate>"
    return f'<cc:Object ObjectType="{kind}" Name="{name}" Id="c{name}">{date}{colours}{device}</cc:Object>'


def cxf(*objects: str, illuminant: str = "D50", observer: str = "2_Degree", namespace: str = CORE) -> bytes:
    """A whole file with one colour specification, CS1."""
    return f"""<?xml version="1.0" encoding="UTF-8"?>
<cc:CxF xmlns:cc="{namespace}"><cc:FileInformation><cc:Creator>nobody</cc:Creator></cc:FileInformation><cc:Resources>
<cc:ObjectCollection>{"".join(objects)}</cc:ObjectCollection>
<cc:ColorSpecificationCollection><cc:ColorSpecification Id="CS1">
<cc:TristimulusSpec><cc:Illuminant>{illuminant}</cc:Illuminant><cc:Observer>{observer}</cc:Observer></cc:TristimulusSpec>
<cc:MeasurementSpec><cc:MeasurementType>Spectrum_Reflectance</cc:MeasurementType>
<cc:WavelengthRange StartWL="380" Increment="10"/></cc:MeasurementSpec>
</cc:ColorSpecification></cc:ColorSpecificationCollection></cc:Resources></cc:CxF>""".encode()


def device(*cmyk: float) -> str:
    """Device colour in C, M, Y and K, percent."""
    return f'<cc:ColorCMYK ColorSpecification="CS1">{CMYK.format(*cmyk)}</cc:ColorCMYK>'


def flat(value: float) -> str:
    """The same reflectance at 380 to 730 nm."""
    return SPECTRUM.format(" ".join([str(value)] * BANDS))


@pytest.mark.parametrize("namespace", [CORE, "http://colorexchangeformat.com/CxF3.2-core", "urn:any"])
def test_spectra_with_inks(namespace: str) -> None:
    """A flat spectrum is a gray of its own height; XYZ and Lab beside it are passed over; any version's namespace will do."""
    objects = [
        thing("A1", colours=LAB.format("CS1", 10, 0, 0) + flat(FLAT), device=device(0, 0, 0, 0)),
        thing("A2", colours=XYZ.format(1, 2, 3) + flat(0.021), device=device(70, 12.5, 0, 100)),
    ]
    found = read_chart(cxf(*objects, namespace=namespace, illuminant="D65"))
    assert found.inks == ("C", "M", "Y", "K")
    assert found.names == ("A1", "A2")
    assert np.allclose(found.amounts, [[0, 0, 0, 0], [0.7, 0.125, 0, 1]])
    assert found.spectra is not None
    assert np.array_equal(found.spectra.wavelengths, np.arange(380, 731, 10))
    assert np.allclose(found.xyz, np.array([[FLAT], [0.021]]) * [0.9642, 1, 0.8249])


def test_lab_and_xyz() -> None:
    """L, A, B and X, Y, Z as the schema writes them; XYZ is better than Lab."""
    lab = [thing("A1", colours=LAB.format("CS1", 95, 0, -2), device=device(0, 0, 0, 0))]
    assert np.allclose(read_chart(cxf(*lab)).xyz, xyz_from_lab(np.array([[95, 0, -2]])))
    both = [thing("A1", colours=LAB.format("CS1", 9, 9, 9) + XYZ.format(84.48, 87.62, 74.57), device=device(0, 0, 0, 0))]
    assert np.allclose(read_chart(cxf(*both)).xyz, [[0.8448, 0.8762, 0.7457]])


def test_inks_beyond_four() -> None:
    """ColorCMYKPlusN and ColorCustom name spot colours; one that a patch does not name it does not have; white comes last."""
    plus = f'<cc:ColorCMYKPlusN ColorSpecification="CS1">{CMYK.format(1, 2, 3, 4)}{{}}</cc:ColorCMYKPlusN>'
    objects = [
        thing(
            "A1", colours=LAB.format("CS1", 50, 0, 0), device=plus.format(SPOT.format("White", 50) + SPOT.format("orange", 60))
        ),
        thing("A2", colours=LAB.format("CS1", 50, 0, 0), device=plus.format(SPOT.format("White", 100))),
    ]
    found = read_chart(cxf(*objects))
    assert found.inks == ("C", "M", "Y", "K", "O", "W")
    assert np.allclose(found.amounts * 100, [[1, 2, 3, 4, 60, 50], [1, 2, 3, 4, 0, 100]])
    custom = f'<cc:ColorCustom ColorSpecification="CS1">{SPOT.format("K", 30)}{SPOT.format("Green", 5)}</cc:ColorCustom>'
    assert read_chart(cxf(thing("A1", colours=LAB.format("CS1", 50, 0, 0), device=custom))).inks == ("K", "G")


def test_targets_apart_from_measurements() -> None:
    """Objects with inks and objects with colours are joined by name; ids and the order differ."""
    targets = [thing("A1", device=device(0, 0, 0, 0)), thing("A2", device=device(0, 0, 0, 100))]
    measured = [thing(name, colours=flat(value), kind="Measurement") for name, value in (("A2", 0.02), ("A1", 0.84))]
    measured = [text.replace('Id="c', 'Id="m') for text in measured]
    found = read_chart(cxf(*targets, *measured))
    assert np.allclose(found.amounts[:, 3], [1, 0])
    assert np.allclose(found.xyz[:, 1], [0.02, 0.84])


def test_colours_alone_with_a_patch_list() -> None:
    """Measurements that know nothing of inks take them from the list."""
    text = patch_list(("C", "O"), ["A1", "A2"], np.array([[0, 0], [0.25, 1]]), title="two inks")
    found = read_chart(cxf(thing("A2", colours=flat(0.4)), thing("A1", colours=flat(0.8))), patch_list=text.encode())
    assert found.inks == ("C", "O")
    assert np.allclose(found.amounts, [[0.25, 1], [0, 0]])


def test_several_conditions() -> None:
    """The first specification that every patch has counts, wherever it stands in the patch."""
    objects = [
        thing("A1", colours=LAB.format("CS0", 1, 0, 0) + LAB.format("CS1", 90, 0, 0), device=device(0, 0, 0, 0)),
        thing("A2", colours=LAB.format("CS1", 20, 0, 0) + LAB.format("CS2", 1, 0, 0), device=device(0, 0, 0, 100)),
    ]
    assert np.allclose(read_chart(cxf(*objects)).xyz, xyz_from_lab(np.array([[90, 0, 0], [20, 0, 0]])))
    with pytest.raises(UnusableChartError, match="Patch A2 was measured under another condition"):
        read_chart(cxf(*objects[:1], objects[1].replace("CS1", "CS3")))


GOOD = thing("A1", colours=LAB.format("CS1", 90, 0, 0), device=device(0, 0, 0, 0))


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (cxf(GOOD, illuminant="D65"), "illuminant D65"),
        (cxf(GOOD, observer="10_Degree"), "10 degree"),
        (cxf(GOOD).replace(b"<cc:L>90", b"<cc:L>x"), "Patch A1 has 'x' for L"),
        (cxf(GOOD).replace(b"<cc:L>90</cc:L>", b""), "Patch A1 has '' for L"),
        (cxf(thing("A1", colours=flat(0.5), device=device(0, 0, 0, 0))).replace(b"Increment", b"Other"), "wavelengths"),
        (
            cxf(thing("A1", colours=flat(0.5)), thing("A2", colours=flat(0.5).replace("0.5 ", "", 1))),
            "Patch A2 was measured at other",
        ),
        (cxf(thing("A1", colours=flat(0.5))), "with which inks"),
        (cxf(thing("A1", device=device(0, 0, 0, 0))), "no colours"),
        (cxf(GOOD).replace(b"<cc:CxF", b"<cc:Other").replace(b"/cc:CxF", b"/cc:Other"), "no CxF 3"),
        (cxf(GOOD)[:-20], "well-formed"),
        (b'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "b">]><x>&a;</x>', "document type"),
        (
            cxf(thing("A1", device=f'<cc:ColorCustom ColorSpecification="CS1">{SPOT.format("Lime", 5)}</cc:ColorCustom>')),
            "'Lime'",
        ),
    ],
)
def test_refusals(data: bytes, words: str) -> None:
    """Each says what is wrong, with the patch where there is one."""
    with pytest.raises(UnusableChartError, match=words):
        read_chart(data)


@settings(deadline=None, max_examples=200)
@given(st.binary(max_size=30), st.data())
def test_damage_is_refused_or_read(noise: bytes, data: st.DataObject) -> None:
    """Whatever stands in the file, nothing but a refusal is raised."""
    raw = cxf(GOOD, thing("A2", colours=flat(0.5), device=device(0, 0, 0, 100)))
    start = data.draw(st.integers(0, len(raw)))
    try:
        read_chart(raw[:start] + noise + raw[start + data.draw(st.integers(0, 40)) :])
    except UnusableChartError as refused:
        assert refused.next_step
