"""Jobs in XJDF: what applies to a transfer is read; nothing they point at is opened, and no entity in them grows."""

import re
from pathlib import Path
from xml.etree.ElementTree import fromstring

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from filmhand.intake.order_list import OrderLine, OrderList, read_order_list
from filmhand.intake.ticket import Ticket
from filmhand.intake.wardrobe import Garment, Place, Tables, parse_named
from filmhand.preflight.finding import Finding, Severity
from filmhand.rules import RuleFile

RULE = RuleFile.parse('title = "t"\n[ticket]\ncopies = 2\n', Path("t.toml")).general
TABLES = Tables(
    parse_named(Garment, '["navy tee"]\ncolour = "#1d2a44"', Path("garments.toml")),
    parse_named(Place, '["left chest"]\nwidth = "100 mm"', Path("placements.toml")),
)
NAMESPACE = "http://www.CIP4.org/JDFSchema_2_0"

# The attributes of the elements used here, from XJDF Schema 2.2 (schema.cip4.org, version 2.2.31), written down for this test:
# the sample is made of names of the standard and of no others. ResourceSet's Resource: from CIP4's own samples.
SCHEMA = {
    "XJDF": "Category CommentURL DescriptiveName ICSVersions JobID JobPartID ProjectID RelatedJobID Types Version",
    "ProductList": "",
    "Product": "Amount DescriptiveName ExternalID ID IsRoot MaxAmount MinAmount PartVersion ProductType ProductTypeDetails",
    "GeneralID": "DataType IDUsage IDValue",
    "Intent": "DescriptiveName ExternalID Name",
    "LayoutIntent": "Bleed Dimensions FinishedDimensions NamedDimensions NumberUp Orientation Pages Sides SpreadType",
    "ResourceSet": "CombinedProcessIndex CommentURL DescriptiveName ID Name ProcessUsage Unit Usage",
    "Resource": "ID ExternalID",
    "AmountPool": "",
    "PartAmount": "Amount MaxAmount MinAmount Waste",
    "Part": "ContactType Product ProductPart Run Separation SheetName",
    "RunList": "",
    "FileSpec": "CheckSum FileFormat FileSize MimeType UID URL UserFileName",
    "NodeInfo": "DueLevel End FirstEnd JobPriority LastEnd NaturalLang Start",
    "CustomerInfo": "CustomerID CustomerJobName CustomerOrderID CustomerProjectID",
    "Contact": "ContactTypeDetails CostCenterID UserID",
    "ComChannel": "ChannelType ChannelUsage DescriptiveName Locator",
    "Company": "CompanyID DescriptiveName OrganizationName",
    "Person": "FamilyName FirstName NamePrefix",
    "Component": "Dimensions ProductType",
}

SAMPLE = f"""<?xml version="1.0" encoding="UTF-8"?>
<XJDF xmlns="{NAMESPACE}" JobID="R300" JobPartID="Films" Types="Product" Version="2.2">
  <ProductList>
    <Product ID="P1" Amount="12" DescriptiveName="Crest on the chest">
      <GeneralID IDUsage="Placement" IDValue="Left Chest"/>
      <GeneralID IDUsage="Garment" IDValue="navy tee"/>
    </Product>
    <Product ExternalID="BACK" Amount="5">
      <Intent Name="LayoutIntent"><LayoutIntent FinishedDimensions="841.89 595.28 0" Dimensions="1000 1000"/></Intent>
    </Product>
    <Product ID="LINING" IsRoot="false" Amount="99"/>
  </ProductList>
  <ResourceSet Name="NodeInfo" Usage="Input">
    <Resource><Part Product="BACK"/><NodeInfo End="2031-03-14T18:00:00+01:00"/></Resource>
    <Resource><NodeInfo LastEnd="2031-03-20T18:00:00+01:00" NaturalLang="de"/></Resource>
  </ResourceSet>
  <ResourceSet Name="CustomerInfo" Usage="Input">
    <Resource><CustomerInfo CustomerID="C-7"/></Resource>
  </ResourceSet>
  <ResourceSet Name="Contact" Usage="Input">
    <Resource>
      <Part ContactType="Customer"/>
      <Contact>
        <ComChannel ChannelType="Phone" Locator="tel:+49.1"/>
        <ComChannel ChannelType="Email" Locator="mailto:club@example.org"/>
        <Company OrganizationName="Otterwick Rowing Club"/>
        <Person FirstName="Ada" FamilyName="Marsh"/>
      </Contact>
    </Resource>
  </ResourceSet>
  <ResourceSet Name="RunList" Usage="Input">
    <Resource><Part ProductPart="P1"/><RunList><FileSpec URL="https://example.org/in%20tray/cr%C3%A8st%201.png?v=2#x"/></RunList></Resource>
    <Resource><Part Product="BACK"/><RunList><FileSpec URL="file:///C:/art/..%2f..%5Cback.tif"/></RunList></Resource>
  </ResourceSet>
  <ResourceSet Name="RunList" Usage="Output">
    <Resource><Part Separation="White"/><RunList><FileSpec URL="white.tif"/></RunList></Resource>
  </ResourceSet>
</XJDF>
"""


def job(inside: str, attributes: str = 'JobID="J" Types="Product"') -> str:
    """A small job."""
    return f'<XJDF xmlns="{NAMESPACE}" {attributes}>{inside}</XJDF>'


def files(*names: str, part: str = "") -> str:
    """A RunList of these files."""
    resources = "".join(f'<Resource>{part}<RunList><FileSpec URL="{name}"/></RunList></Resource>' for name in names)
    return f'<ResourceSet Name="RunList">{resources}</ResourceSet>'


def read(text: str | bytes) -> OrderList:
    """A job."""
    return read_order_list(text.encode() if isinstance(text, str) else text, "job.xjdf", rule=RULE, tables=TABLES)


def ticket(line: OrderLine) -> Ticket:
    """The ticket of an order that can be followed."""
    assert isinstance(line.ticket, Ticket), str(line.ticket.message)
    return line.ticket


def test_the_sample_is_of_the_standards_names() -> None:
    """Every element and attribute, in CIP4's namespace."""
    for element in fromstring(SAMPLE).iter():
        namespace, name = re.fullmatch(r"\{(.*)\}(.*)", element.tag).groups()  # type: ignore[union-attr]
        assert namespace == NAMESPACE
        assert set(element.attrib) <= set(SCHEMA[name].split()), name


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_copies_size_ids_and_the_rest(encoding: str) -> None:
    """Of two products: files by the name at their URL's end, 841.89 × 595.28 points as A4 is high and wide (ISO 216)."""
    text = SAMPLE.replace('encoding="UTF-8"', f'encoding="{encoding.removesuffix("-sig")}"')
    orders = read(text.encode(encoding))
    assert orders.faults == ()
    assert [(line.line, line.file) for line in orders.lines] == [(1, "crèst 1.png"), (2, "back.tif")]
    crest, back = (ticket(line) for line in orders.lines)
    assert (crest.copies, crest.placement, crest.width, crest.is_boxed) == (12, "left chest", 100, True)
    assert (crest.garment, crest.garment_name, crest.order) == ("#1d2a44", "navy tee", "R300/Films")
    assert (crest.due and crest.due.isoformat(), crest.language) == ("2031-03-20T18:00:00+01:00", "de")
    assert crest.customer == "Otterwick Rowing Club, Ada Marsh, club@example.org"
    assert (back.copies, back.garment, back.is_boxed) == (5, "#ffffff", False)
    assert (back.width, back.height) == (pytest.approx(297, abs=0.01), pytest.approx(210, abs=0.01))
    assert back.due is not None
    assert back.due.isoformat() == "2031-03-14T18:00:00+01:00"


def test_a_prefix_for_the_namespace_changes_nothing() -> None:
    """As CIP4's own library writes it."""
    inside = re.sub(r"<(/?)(\w)", r"<\1x:\2", SAMPLE.partition("?>")[2]).replace("xmlns=", "xmlns:x=")
    assert read(inside) == read(SAMPLE)


def test_elements_of_other_namespaces_are_not_ours() -> None:
    """An extension may have a Product of its own."""
    orders = read(job(f'<e:ProductList xmlns:e="urn:e"><e:Product Amount="9"/></e:ProductList>{files("a.png")}'))
    assert [ticket(line).copies for line in orders.lines] == [2]


@pytest.mark.parametrize(
    ("url", "name"),
    [
        *[("a.png", "a.png"), ("cid:a.png", "a.png"), (r"\\server\in\a.png", "a.png"), ("../../etc/passwd", "passwd")],
        *[("http://[x/a.png", "a.png"), ("%00a.png", "\0a.png"), ("a%2Fb.png", "b.png")],
    ],
)
def test_of_a_url_only_the_name_is_read(url: str, name: str) -> None:
    """Whatever path, host or escape is before it."""
    assert [line.file for line in read(job(files(url))).lines] == [name]


def test_amounts_of_the_output_count_where_the_product_has_none() -> None:
    """The one PartAmount of the Component that comes out, a float in the schema."""
    pool = '<AmountPool><PartAmount Amount="40.0"/></AmountPool>'
    output = f'<ResourceSet Name="Component" Usage="Output"><Resource>{pool}</Resource></ResourceSet>'
    assert [ticket(line).copies for line in read(job(files("a.png", "b.png") + output)).lines] == [40, 40]


def test_dimensions_of_nought_say_nothing() -> None:
    """Neither do they hide the other length."""
    layout = '<Intent Name="LayoutIntent"><LayoutIntent FinishedDimensions="0 7.2e1 0"/></Intent>'
    [line] = read(job(f"<ProductList><Product>{layout}</Product></ProductList>{files('a.png')}")).lines
    assert (ticket(line).width, ticket(line).height) == (None, pytest.approx(25.4))


@pytest.mark.parametrize(
    ("inside", "words"),
    [
        ('<ProductList><Product Amount="2.5"/></ProductList>', "Amount is “2.5”"),
        (
            '<ProductList><Product><Intent Name="LayoutIntent"><LayoutIntent Dimensions="wide high"/></Intent></Product>'
            "</ProductList>",
            "“wide”",
        ),
        ('<ResourceSet Name="NodeInfo"><Resource><NodeInfo End="1286557458599e9"/></Resource></ResourceSet>', "NodeInfo/@End"),
        ('<ProductList><Product ID="A"/><Product ID="B"/></ProductList>', "2 products"),
    ],
)
def test_what_cannot_be_followed_is_held_with_its_artwork(inside: str, words: str) -> None:
    """The line stays, so that the artwork is not printed as if nothing had been ordered."""
    lines = [line for line in read(job(inside + files("a.png"))).lines if isinstance(line.ticket, Finding)]
    assert [line.file for line in lines] == ["a.png"]
    [finding] = [line.ticket for line in lines if isinstance(line.ticket, Finding)]
    assert finding.severity is Severity.HOLD
    assert words in str(finding.message)


BOMB = (
    '<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa">'
    + "".join(f'<!ENTITY {b} "{f"&{a};" * 10}">' for a, b in zip("abcdefgh", "bcdefghi", strict=True))
    + "]>"
)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (BOMB + job(files("&i;.png")), "document type"),
        ('<!DOCTYPE x [<!ENTITY f SYSTEM "file:///etc/passwd">]>' + job(files("a.png") + "&f;"), "document type"),
        ('<!DOCTYPE x SYSTEM "http://example.org/x.dtd">' + job(files("a.png")), "document type"),
        (job(files("a.png"))[:-3], "well-formed"),
        (job(files("&undeclared;.png")), "well-formed"),
        ('<JDF xmlns="http://www.CIP4.org/JDFSchema_1_1" ID="n" Type="Product" Status="Waiting"/>', "“JDF”"),
        ("<svg/>", "“svg”"),
        (job(""), "names no artwork"),
        ("<a>" * 100_000 + "</a>" * 100_000, "“a”"),
    ],
    ids=["growing entities", "a file", "a foreign dtd", "cut short", "undeclared", "jdf", "svg", "nothing", "deep"],
)
def test_what_is_no_job_is_held(text: str, words: str) -> None:
    """With the reason; a document type is refused before anything in it is read."""
    orders = read(text)
    assert orders.lines == ()
    assert [fault.severity for fault in orders.faults] == [Severity.HOLD]
    assert words in str(orders.faults[0].message)


@settings(max_examples=200, deadline=None)
@given(st.integers(0, len(SAMPLE)), st.text(max_size=8))
def test_no_text_brings_it_down(place: int, text: str) -> None:
    """The sample with anything put in anywhere: orders or findings come out."""
    orders = read(SAMPLE[:place] + text.encode("utf-8", "ignore").decode() + SAMPLE[place:])
    assert orders.lines or orders.faults
    assert len({line.line for line in orders.lines}) == len(orders.lines)
