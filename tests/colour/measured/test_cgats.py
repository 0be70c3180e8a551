"""CGATS text in the variants that are met."""

import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from filmhand.colour.ciede2000 import difference
from filmhand.colour.cielab import D50_WHITE, lab_from_xyz, xyz_from_lab
from filmhand.colour.measured.amount_fields import printed_in
from filmhand.colour.measured.cgats import patch_list, read_cgats
from filmhand.colour.measured.read import read_chart
from filmhand.colour.measured.unusable import UnusableChartError

# The layout of ANSI CGATS.17 (from memory), with invented values.
PLAIN = """CGATS.17
ORIGINATOR "nobody"
ILLUMINANT "D50"
OBSERVER "2"
NUMBER_OF_FIELDS 8
BEGIN_DATA_FORMAT
SAMPLE_ID SAMPLE_NAME CMYK_C CMYK_M CMYK_Y CMYK_K LAB_L LAB_A LAB_B
END_DATA_FORMAT
NUMBER_OF_SETS 3
BEGIN_DATA
1 "A1" 0 0 0 0 95.5 0.25 -2.5
2 "A2" 100 0 0 0 55 -37.5 -50
3 "A3" 0 70.2 0 12.5 60 40.5 -3
END_DATA
"""
LAB = np.array([[95.5, 0.25, -2.5], [55, -37.5, -50], [60, 40.5, -3]])
AMOUNTS = np.array([[0, 0, 0, 0], [1, 0, 0, 0], [0, 0.702, 0, 0.125]])


def decimal_commas(text: str) -> str:
    """Numbers as German or French programs write them."""
    return re.sub(r"(?<=\d)\.(?=\d)", ",", text)


def without_marks(text: str) -> str:
    """No BEGIN, END or counts: a list of fields and rows."""
    return "\n".join(line for line in text.split("\n") if not re.match("BEGIN|END|NUMBER", line))


def wrapped(text: str) -> str:
    """Each row over three lines."""
    return re.sub(r'^(\d "A\d") (\S+ \S+ \S+ \S+) ', r"\1\n\2\n  ", text, flags=re.MULTILINE)


VARIANTS = {
    "plain": PLAIN,
    "tabs": re.sub(' +(?=[^"]*$)', "\t", PLAIN, flags=re.MULTILINE),
    "commas": decimal_commas(PLAIN),
    "first line": PLAIN.replace("CGATS.17", "CTI3\n"),
    "no first line": PLAIN.replace("CGATS.17\n", ""),
    "comments": PLAIN.replace("BEGIN_DATA\n", "# made up\nBEGIN_DATA # rows\n# none yet\n").replace("-3\n", "-3 # last\n"),
    "wrong counts": PLAIN.replace("SETS 3", "SETS 7").replace("FIELDS 8", "FIELDS 11"),
    "no counts": re.sub("NUMBER_OF.*\n", "", PLAIN),
    "no marks": without_marks(PLAIN),
    "no format marks": re.sub("(BEGIN|END)_DATA_FORMAT\n", "", PLAIN),
    "spelling": PLAIN.replace("BEGIN_DATA_FORMAT", "Begin Data Format").replace("END_DATA_FORMAT", "END_FORMAT"),
    "fields among the rows": without_marks(PLAIN).replace("SAMPLE_ID", "BEGIN_DATA\nSAMPLE_ID"),
    "wrapped": wrapped(PLAIN),
    "rows side by side": PLAIN.replace("-2.5\n", "-2.5 "),
    "lower case": PLAIN.replace("LAB_L LAB_A LAB_B", "Lab_L Lab_a Lab_b").replace("CMYK_C", "cmyk_c"),
    "names with blanks": PLAIN.replace(" ", "\t").replace('"A1"', "A 1").replace('"A2"', "A 2").replace('"A3"', "A\u00a03"),
    "empty lines": PLAIN.replace("\n", "\n\n"),
    "no end": PLAIN.replace("END_DATA\n", ""),
}


@pytest.mark.parametrize("ending", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "latin-1"])
@pytest.mark.parametrize("variant", VARIANTS)
def test_variants_say_the_same(variant: str, encoding: str, ending: str) -> None:
    """However it is written, the three patches come out alike."""
    found = read_chart(VARIANTS[variant].replace("\n", ending).encode(encoding))
    assert found.inks == ("C", "M", "Y", "K")
    assert len(found.names) == 3
    assert np.allclose(found.amounts, AMOUNTS, atol=1e-12)
    assert np.allclose(found.xyz, xyz_from_lab(LAB), atol=1e-12)


def test_signs_of_old_encodings_are_no_line_ends() -> None:
    """Bytes 85 and 97 (an ellipsis and a dash in the Windows code page) stand within a word; TR002 has one in a comment."""
    raw = PLAIN.encode().replace(b'"A2"', b'"A\x85\x97"').replace(b'"nobody"', b'"no\x85body"')
    assert read_chart(raw).names == ("A1", "A\x85\x97", "A3")


def test_lab_over_the_other_d50() -> None:
    """Lab that a program took over CIE's own D50 (0.96422, 1, 0.82521; ASTM E308, from memory) is hardly another colour."""
    lab = np.stack(np.meshgrid(np.linspace(35, 75, 5), np.linspace(-60, 60, 7), np.linspace(-60, 60, 7)), axis=-1).reshape(-1, 3)
    rows = "".join(f"{i} 50 {' '.join(f'{x:.6f}' for x in row)}\n" for i, row in enumerate(lab))
    text = f"BEGIN_DATA_FORMAT\nSAMPLE_ID CMYK_K LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\nBEGIN_DATA\n{rows}END_DATA\n"
    found = read_chart(text.encode())
    meant = found.xyz / D50_WHITE * [0.96422, 1, 0.82521]
    assert difference(lab_from_xyz(found.xyz), lab).max() < 1e-6
    assert difference(lab_from_xyz(found.xyz), lab_from_xyz(meant)).max() < 0.03


FORMS = {
    "SPECTRAL_NM400": "SPECTRAL_NM{}",
    "SPECTRAL_NM_400": "SPECTRAL_NM_{}",
    "SPECTRAL_400": "SPECTRAL_{}",
    "SPEC_400": "SPEC_{}",
    "nm400": "nm{}",
    "R_400nm": "R_{}nm",
    "400": "{}",
}


@pytest.mark.parametrize("scale", [1, 100])
@pytest.mark.parametrize("form", [*FORMS, "pairs"])
def test_spectral_fields(form: str, scale: int) -> None:
    """Names of spectral columns as programs have them, and the pairs of the standard, percent or fractions; XYZ is left."""
    nm = np.arange(380, 731, 10)
    values = np.linspace(0.2, 0.9, len(nm)) * np.array([[1.0], [0.5]])
    names = ["SPECTRAL_NM", "SPECTRAL_PCT"] * len(nm) if form == "pairs" else [FORMS[form].format(each) for each in nm]
    rows = [
        [
            f"{each} {scale * value:.8f}" if form == "pairs" else f"{scale * value:.8f}"
            for each, value in zip(nm, row, strict=True)
        ]
        for row in values
    ]
    text = f"X\nBEGIN_DATA_FORMAT\nSAMPLE_ID CMYK_C XYZ_X XYZ_Y XYZ_Z {' '.join(names)}\nEND_DATA_FORMAT\nBEGIN_DATA\n"
    text += "".join(f"{i} {50 * i} 1 2 3 {' '.join(row)}\n" for i, row in enumerate(rows))
    found = read_chart((text + "END_DATA\n").encode())
    assert found.spectra is not None
    assert np.array_equal(found.spectra.wavelengths, nm)
    assert np.allclose(found.spectra.reflectances, values, atol=1e-7)
    assert found.xyz[1, 1] == pytest.approx(found.xyz[0, 1] / 2, abs=1e-7)


def test_xyz_before_lab_percent_or_not() -> None:
    """XYZ counts where both are there; of 100 or of 1 is seen by its size."""
    for scale in (1, 100):
        text = "BEGIN_DATA_FORMAT\nSAMPLE_ID CMYK_K XYZ_X XYZ_Y XYZ_Z LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\nBEGIN_DATA\n"
        text += (
            f"1 0 {0.8 * scale} {0.84 * scale} {0.7 * scale} 1 1 1\n2 100 {0.02 * scale} {0.021 * scale} {0.017 * scale} 1 1 1\n"
        )
        assert np.allclose(read_chart(text.encode()).xyz, [[0.8, 0.84, 0.7], [0.02, 0.021, 0.017]])


@pytest.mark.parametrize(
    ("keywords", "words"),
    [
        ('ILLUMINANT "D65"', "illuminant D65"),
        ("ILLUMINANT A", "illuminant A"),
        ('ILLUMINANT "F11"', "illuminant F11"),
        ('OBSERVER "10 degree"', "10 degree"),
        ('OBSERVER "10"', "10 degree"),
        ('OBSERVER "CIE 1964"', "10 degree"),
        ('WEIGHTING_FUNCTION "ILLUMINANT, D65"\nWEIGHTING_FUNCTION "OBSERVER, 2 degree"', "illuminant D65"),
        ('WEIGHTING_FUNCTION "ILLUMINANT, D50"\nWEIGHTING_FUNCTION "OBSERVER, 10 degree"', "10 degree"),
        ('MEASUREMENT_SOURCE "Illumination=D65 ObserverAngle=2 Filter=No"', "D65"),
        ('MEASUREMENT_SOURCE "Illumination=D50 ObserverAngle=10 Filter=No"', "10 degree"),
    ],
)
def test_other_conditions_are_refused(keywords: str, words: str) -> None:
    """Lab for another light or observer, with what to do about it."""
    text = re.sub("ILLUMINANT.*\nOBSERVER.*\n", keywords + "\n", PLAIN)
    with pytest.raises(UnusableChartError, match=words) as refused:
        read_chart(text.encode())
    assert "D50 and 2 degree" in refused.value.next_step


@pytest.mark.parametrize(
    "keywords",
    [
        'ILLUMINANT "CIE D50"\nOBSERVER "CIE 1931 2 degree"',
        'WEIGHTING_FUNCTION "ILLUMINANT, D50"\nWEIGHTING_FUNCTION "OBSERVER, 2 degree"',
        'MEASUREMENT_SOURCE "GAS-FILLED TUNGSTEN"',
        'MEASUREMENT_SOURCE "Illumination=D50 ObserverAngle=2 WhiteBase=Absolute Filter=10"',
        'ILLUMINANT "See report of 10 May"',
        "",
    ],
)
def test_the_right_or_unsaid_conditions_pass(keywords: str) -> None:
    """D50 and 2 degree in the words met, or nothing."""
    text = re.sub("ILLUMINANT.*\nOBSERVER.*\n", keywords + "\n", PLAIN)
    assert len(read_chart(text.encode()).names) == 3


NAMES = st.text(st.characters(codec="utf-8", exclude_categories=("C", "Z", "N")), min_size=1, max_size=8)
INK_SETS = st.sampled_from(["CMYK", "K", "CMY", "CMYKO", "CMYKRGBO", "CMYKRGBOW"])


@settings(deadline=None, max_examples=150)
@given(data=st.data(), inks=INK_SETS)
def test_what_is_written_is_read(data: st.DataObject, inks: str) -> None:
    """A patch list whose separators, decimal marks, line ends and encoding were changed on the way comes back as it was."""
    names = data.draw(st.lists(NAMES, min_size=2, max_size=6, unique=True))
    amount = st.floats(0, 1) | st.sampled_from([0.0, 0.1, 0.29, 1 / 3, 0.5, 1.0])
    amounts = np.array(data.draw(st.lists(st.tuples(*[amount] * len(inks)), min_size=len(names), max_size=len(names))))
    text = patch_list(tuple(inks), names, amounts, title='a "title"')
    if data.draw(st.booleans()):
        text = decimal_commas(text)
    text = text.replace("\t", data.draw(st.sampled_from(["\t", " ", "  \t"])))
    text = text.replace("\n", data.draw(st.sampled_from(["\n", "\r\n", "\r"])))
    found = printed_in(read_cgats(text.encode(data.draw(st.sampled_from(["utf-8", "utf-16"]))))[0])
    assert found is not None
    assert found.inks == tuple(inks)
    assert found.labels[0] == tuple(names)
    assert np.abs(found.amounts - amounts).max() < 1e-8


def test_patch_list_as_text() -> None:
    """The fields that ANSI CGATS.17 gives process and n-colour inks, percent, and our keyword for the letters."""
    text = patch_list(("C", "M", "Y", "K", "O"), ["A1"], np.array([[0, 0.5, 1 / 3, 1, 0.29]]), title="five")
    assert "5CLR_1\t5CLR_2\t5CLR_3\t5CLR_4\t5CLR_5" in text
    assert 'FILMHAND_INKS "C M Y K O"' in text
    assert '1\t"A1"\t0\t50\t33.333333\t100\t29\n' in text
    assert "CMYK_C\tCMYK_M\tCMYK_Y\tCMYK_K" in patch_list(tuple("CMYK"), ["A1"], np.zeros((1, 4)), title="four")


@pytest.mark.parametrize(
    ("fields", "keyword", "inks"),
    [
        ("4CLR_1 4CLR_2 4CLR_3 4CLR_4", "", "CMYK"),
        ("5CLR_1 5CLR_2 5CLR_3 5CLR_4 5CLR_5", 'FILMHAND_INKS "C M Y K O"', "CMYKO"),
        ("5CLR_5 5CLR_4 5CLR_3 5CLR_2 5CLR_1", 'FILMHAND_INKS "C, M, Y, Black, Orange"', "CMYKO"),
        ("CMYKOG_C CMYKOG_M CMYKOG_Y CMYKOG_K CMYKOG_O CMYKOG_G", "", "CMYKOG"),
        ("CMYK_C CMYK_M CMYK_Y CMYK_K Orange", "", "CMYKO"),
        ("INK_C INK_W", "", "CW"),
        ("White Black", "", "KW"),
    ],
)
def test_fields_of_inks(fields: str, keyword: str, inks: str) -> None:
    """By number with the letters told, by letter, by name; white comes last."""
    count = len(fields.split())
    rows = "".join(f"{i} {' '.join(str(10 * i + j) for j in range(count))} 50 0 0\n" for i in range(3))
    text = f"{keyword}\nBEGIN_DATA_FORMAT\nSAMPLE_ID {fields} LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\nBEGIN_DATA\n{rows}END_DATA\n"
    found = read_chart(text.encode())
    assert "".join(found.inks) == inks
    first = found.amounts[0] * 100
    expected = range(count) if not fields.startswith(("5CLR_5", "White")) else reversed(range(count))
    assert np.allclose(first, list(expected))


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("70.2", "-", "Patch A3 has '-' for CMYK_M"),
        ("-37.5", "NaN", "Patch A2 has 'NaN' for LAB_A"),
        ("-37.5", "-1e999", "Patch A2 has '-1e999' for LAB_A"),
        ("60 40.5", "40.5", "row at line 13"),
        ("CMYK_K", "CMYKV_V", "CMYKV_V is no ink"),
        ("CMYK_K", "CMYK_C", "CMYK_C stands there twice"),
        ("LAB_B", "LAB_C", "no colours"),
        ("CMYK_C CMYK_M CMYK_Y CMYK_K", "R G B X", "with which inks"),
        ("CMYK_C CMYK_M CMYK_Y CMYK_K LAB_L", "3CLR_1 3CLR_2 3CLR_3 X LAB_L", "which 3 inks"),
        ("CMYK_C CMYK_M CMYK_Y CMYK_K LAB_L", "4CLR_1 4CLR_2 4CLR_3 4CLR_5 LAB_L", "count from 1"),
        ("END_DATA\n", "", "stops after 3 of 5"),
    ],
)
def test_what_cannot_be_told_is_refused(old: str, new: str, words: str) -> None:
    """The message names the patch, the line or the column."""
    text = PLAIN.replace("SETS 3", "SETS 5").replace(old, new) if old == "END_DATA\n" else PLAIN.replace(old, new)
    with pytest.raises(UnusableChartError, match=words):
        read_chart(text.encode())


@pytest.mark.parametrize("data", [b"", b"\0", b"hello", b"\xff\xfe", b"CGATS.17\nBEGIN_DATA\n1 2 3\nEND_DATA\n", b"\x89PNG\r\n"])
def test_no_chart_at_all(data: bytes) -> None:
    """Other files are refused, and never read as something."""
    with pytest.raises(UnusableChartError):
        read_chart(data)


@settings(deadline=None, max_examples=300)
@given(st.binary(max_size=200) | st.text(max_size=200).map(str.encode), st.integers(0, len(PLAIN)))
def test_damage_is_refused_or_read(noise: bytes, place: int) -> None:
    """Whatever stands in the file, nothing but a refusal is raised."""
    raw = PLAIN.encode()
    try:
        read_chart(raw[:place] + noise + raw[place:])
    except UnusableChartError as refused:
        assert refused.next_step


SECOND = "\n".join(PLAIN.split("\n")[5:]).replace('1 "A1"', '4 "B1"').replace('2 "A2"', '5 "B2"').replace('3 "A3"', '6 "B3"')


def test_pages_of_one_chart() -> None:
    """Tables with the same columns and other patches are one chart, whether the second repeats the list of fields or not."""
    for second in (SECOND, SECOND[SECOND.index("NUMBER_OF_SETS") :]):
        found = read_chart((PLAIN + second).encode())
        assert found.names == ("A1", "A2", "A3", "B1", "B2", "B3")


def test_two_tables_of_the_same_patches() -> None:
    """As of two measuring conditions: nobody knows which is meant."""
    with pytest.raises(UnusableChartError, match="same patches"):
        read_chart((PLAIN + "\n".join(PLAIN.split("\n")[5:])).encode())


def test_inks_in_one_table_colours_in_another() -> None:
    """Joined by name, in whatever order; the table with the better colours counts."""
    inks = re.sub(" (95.5 0.25 -2.5|55 -37.5 -50|60 40.5 -3)", "", PLAIN.replace(" LAB_L LAB_A LAB_B", ""))
    colours = "\nBEGIN_DATA_FORMAT\nSAMPLE_ID LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\n"
    colours += "BEGIN_DATA\n2 55 -37.5 -50\n3 60 40.5 -3\n1 95.5 0.25 -2.5\nEND_DATA\n"
    found = read_chart((inks + colours).encode())
    assert np.allclose(found.amounts, AMOUNTS[[1, 2, 0]])
    assert np.allclose(found.xyz, xyz_from_lab(LAB[[1, 2, 0]]))


def test_keywords() -> None:
    """One table's keywords go on to the next, which may say them anew."""
    first, second = read_cgats((PLAIN + 'ORIGINATOR "somebody"\n' + SECOND).encode())
    assert first.keywords["ORIGINATOR"] == "nobody"
    assert (second.keywords["ORIGINATOR"], second.keywords["ILLUMINANT"]) == ("somebody", "D50")
