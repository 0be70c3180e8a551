"""A job in CIP4's XJDF 2.x: copies, size, ids, due time, customer and file, as far as they apply to a transfer. Pure.

Names of elements and attributes: XJDF Schema 2.2 (schema.cip4.org, namespace http://www.CIP4.org/JDFSchema_2_0). Its lengths are
in points of 1/72 inch. Nothing that the job points at is opened or fetched: of a file's URL only the name at its end is read.
"""

import re
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final
from urllib.parse import unquote
from xml.etree.ElementTree import Element

from filmhand.intake import cells
from filmhand.intake.listed import Listed, base_name, list_held
from filmhand.intake.ordered import Statement
from filmhand.intake.safe_xml import parsed
from filmhand.preflight.finding import Finding
from filmhand.words import Phrase, Words

_XJDF: Final = "{http://www.CIP4.org/JDFSchema_2_0}"

_NOT_XJDF: Final = Phrase("it is XML, but not XJDF 2: its outermost element is “{element}”")
_NO_FILE: Final = Phrase("product {product} names no artwork: it has no RunList with a FileSpec whose URL ends in a file name")
_WHOSE: Final = Phrase("it does not say of which of its {count} products this is the artwork: Part should name the Product")
_PRODUCT: Final = Phrase("{list}, product {product}")
_JOB: Final = Phrase("{list}")

_NAMES: Final = {
    "copies": "Amount",
    "width": "FinishedDimensions",
    "height": "FinishedDimensions",
    "order": "JobID and JobPartID",
    "due": "NodeInfo/@End",
    "customer": "Contact",
    "language": "NodeInfo/@NaturalLang",
    "placement": "GeneralID Placement",
    "garment": "GeneralID Garment",
}


@dataclass(frozen=True)
class _Product:
    """A product of the job: its number from 1, the element, and the ids that a Part may call it by."""

    number: int
    element: Element
    ids: tuple[str, ...]


@dataclass(frozen=True)
class _Job:
    """A job and its resources: by the name of their set, whether they come out, and the product whose they are, "" for all."""

    root: Element
    resources: Mapping[tuple[str, bool, str], Sequence[Element]]

    def own(self, name: str, ids: Iterable[str], *, is_output: bool = False) -> list[Element]:
        """Resources of a kind that are the product's alone."""
        return [one for known in ids for one in self.resources.get((name, is_output, known), ())]

    def every(self, name: str, product: _Product, *, is_output: bool = False) -> list[Element]:
        """A product's own resources of a kind, then those of the whole job."""
        return self.own(name, (*product.ids, ""), is_output=is_output)


def xjdf(data: bytes, name: str) -> tuple[tuple[Listed, ...], tuple[Finding, ...]]:
    """The orders of a job, one for each file of each product, and what is wrong with the job as a whole."""
    root = parsed(data)
    if isinstance(root, Words):
        return (), (list_held(name, root),)
    if root.tag != f"{_XJDF}XJDF":
        return (), (list_held(name, _NOT_XJDF(element=root.tag.rpartition("}")[2])),)
    job, products = _Job(root, _resources(root)), _products(root)
    listed: list[Listed] = []
    findings: list[Finding] = []
    strays = _files(job, ("",))
    for product in products:
        files = _files(job, product.ids if len(products) > 1 else (*product.ids, ""))
        where = _PRODUCT(list=name, product=product.number) if len(products) > 1 else _JOB(list=name)
        statement = Statement(where, _values(job, product), _NAMES)
        listed += [Listed(place, file, statement) for place, file in enumerate(files, len(listed) + 1)]
        if not files and not (strays and len(products) > 1):
            findings.append(list_held(name, _NO_FILE(product=product.number)))
    if len(products) > 1:
        whose = Statement(_JOB(list=name), {}).refused(_WHOSE(count=len(products)))
        listed += [Listed(place, file, whose) for place, file in enumerate(strays, len(listed) + 1)]
    return tuple(listed), tuple(findings)


def _products(root: Element) -> tuple[_Product, ...]:
    """What is ordered; parts of a product (IsRoot false) are not ordered by themselves. A job without products is one."""
    elements = [one for one in _all(root, "ProductList/Product") if one.get("IsRoot", "true") not in {"false", "0"}]
    return tuple(
        _Product(number, element, tuple(sorted({element.get("ID", ""), element.get("ExternalID", "")} - {""})))
        for number, element in enumerate(elements or [Element("Product")], 1)
    )


def _files(job: _Job, ids: Iterable[str]) -> tuple[str, ...]:
    """Names of the artworks of a product; of the id "", those that are no product's in particular."""
    specs = (spec for one in job.own("RunList", ids) for spec in _all(one, "RunList/FileSpec"))
    return tuple(dict.fromkeys(filter(None, map(_file, specs))))


def _file(spec: Element) -> str:
    """The name at the end of a FileSpec's URL, its percent signs decoded (RFC 3986); else its UserFileName."""
    path = re.sub(r"^[A-Za-z][A-Za-z0-9+.-]*:|[?#].*", "", spec.get("URL", ""), flags=re.DOTALL)
    return base_name(unquote(path)) or base_name(spec.get("UserFileName", ""))


def _resources(root: Element) -> Mapping[tuple[str, bool, str], Sequence[Element]]:
    """Every resource of a job, by what `_Job` says. A set that does not say whether it goes in or comes out counts as both."""
    found = defaultdict[tuple[str, bool, str], list[Element]](list)
    for one in _all(root, "ResourceSet"):
        usages = {"Input": (False,), "Output": (True,)}.get(one.get("Usage", ""), (False, True))
        for resource in _all(one, "Resource"):
            named = {part.get(key, "") for part in _all(resource, "Part") for key in ("Product", "ProductPart")} - {""}
            for product in sorted(named) or ("",):
                for is_output in usages:
                    found[one.get("Name", ""), is_output, product].append(resource)
    return found


def _values(job: _Job, product: _Product) -> dict[str, Any]:
    """What the job says of a product, as a ticket file would say it."""
    info = [one for resource in job.every("NodeInfo", product) for one in _all(resource, "NodeInfo")]
    said = {
        "order": "/".join(filter(None, (job.root.get("JobID"), job.root.get("JobPartID")))),
        "copies": _amount(job, product),
        "due": next(filter(None, (one.get(key) for one in info for key in ("End", "LastEnd"))), None),
        "language": next(filter(None, (one.get("NaturalLang") for one in info)), None),
        "customer": _customer(job, product),
        **_agreed(product.element),
        **_size(product.element),
    }
    return {key: value for key, value in said.items() if value not in {None, ""}}


def _amount(job: _Job, product: _Product) -> int | str | None:
    """`Product/@Amount`; else what is to come out, the Component's one PartAmount."""
    amount = product.element.get("Amount")
    if amount is None:
        outputs = job.every("Component", product, is_output=True)
        amounts = [one.get("Amount") for output in outputs for one in _all(output, "AmountPool/PartAmount")]
        amount = amounts[0] if len(amounts) == 1 else None
    return None if amount is None else cells.count(amount.strip())


def _size(product: Element) -> dict[str, str]:
    """The finished width and height, else the open ones; 0 says nothing."""
    for key in ("FinishedDimensions", "Dimensions"):
        for intent in _all(product, "Intent/LayoutIntent"):
            lengths = [_points(text) for text in intent.get(key, "").split()]
            if len(lengths) > 1:
                return dict(zip(("width", "height"), lengths, strict=False))
    return {}


def _points(text: str) -> str:
    """A length in points as a ticket file would say it. XML Schema's float may have an exponent."""
    try:
        points = float(text)
    except ValueError:
        return text
    return f"{points:.4f} pt" if points else ""


def _agreed(product: Element) -> dict[str, str]:
    """What XJDF has no element for stands in a GeneralID: `IDUsage` "Placement" or "Garment", the shop's word in `IDValue`."""
    ids = {one.get("IDUsage", "").lower(): one.get("IDValue", "") for one in _all(product, "GeneralID")}
    return {key: ids.get(key, "") for key in ("placement", "garment")}


def _customer(job: _Job, product: _Product) -> str:
    """Company, person and e-mail address of the Contact for customers; else the CustomerInfo's CustomerID."""
    for resource in job.every("Contact", product):
        kinds = {part.get("ContactType") for part in _all(resource, "Part")}
        for contact in _all(resource, "Contact"):
            if "Customer" in kinds | set(contact.get("ContactTypes", "").split()):
                return ", ".join(dict.fromkeys(filter(None, _address(contact))))
    info = (
        one.get("CustomerID", "") for resource in job.every("CustomerInfo", product) for one in _all(resource, "CustomerInfo")
    )
    return next(filter(None, info), "")


def _address(contact: Element) -> Iterable[str]:
    yield from (one.get("OrganizationName", "") for one in _all(contact, "Company"))
    yield from (f"{one.get('FirstName', '')} {one.get('FamilyName', '')}".strip() for one in _all(contact, "Person"))
    channels = _all(contact, "ComChannel")
    yield from (one.get("Locator", "").removeprefix("mailto:") for one in channels if one.get("ChannelType") == "Email")


def _all(element: Element, path: str) -> list[Element]:
    """Descendants by a path of names in XJDF's namespace."""
    return element.findall("/".join(f"{_XJDF}{name}" for name in path.split("/")))
