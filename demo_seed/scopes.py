"""The 24 scopes of the house, each kind of the catalogue at least once. Numbers, sizes and the maker are invented."""

from __future__ import annotations

from dataclasses import dataclass

from loupebook.rules.codes_gs1 import gtin_check_digit
from loupebook.rules.codes_keys import mms_key

MAKER = "Alder"
SAMPLE = "51022222233336"
"""The DI of FDA's public UDI sample."""


def _di(item: int) -> str:
    """A DI nobody's product can have: GS1 keeps numbers that begin with 02 for use inside a house.

    From memory: GS1 General Specifications, restricted circulation numbers.
    """
    head = f"0029900{item:06d}"
    return head + gtin_check_digit(head)


@dataclass(frozen=True)
class Scope:
    """One scope. Without a DI its mark is plain text, as on many that were made before marks were asked for."""

    tag: str
    kind: str
    serial: str
    model: str
    tube_mm: int
    di: str | None = None
    on_loan: bool = False
    tube_um: int | None = None
    """Outer diameter of the insertion tube; only where the facility has entered it."""

    @property
    def key(self) -> str:
        key = f"udi:{self.di}/{self.serial}" if self.di else mms_key(MAKER, self.model, self.serial)
        assert key is not None
        return key

    @property
    def words(self) -> str:
        """The kind as a plate says it."""
        name, _, variant = self.kind.partition("_")
        return f"{name}, {variant}" if variant else name


SCOPES = (
    Scope("C-14", "colonoscope", "2741906", "CX 180", 1680, SAMPLE, tube_um=12_800),
    Scope("C-11", "colonoscope", "2740388", "CX 180", 1680, SAMPLE, tube_um=12_800),
    Scope("C-09", "colonoscope", "2698124", "CX 170", 1680, SAMPLE),
    Scope("C-07", "colonoscope", "2698077", "CX 170", 1680),
    Scope("E-01", "enteroscope", "1180042", "EX 200", 2000, _di(101)),
    Scope("G-01", "gastroscope", "3310275", "GX 103", 1030, _di(110), tube_um=9_800),
    Scope("G-02", "gastroscope_jet", "3312840", "GX 103J", 1030, _di(111)),
    Scope("G-05", "gastroscope_double", "3309516", "GX 105D", 1030, _di(112)),
    Scope("D-02", "duodenoscope", "4405813", "DX 124", 1240, _di(120)),
    Scope("D-07", "duodenoscope", "4406120", "DX 124", 1240, _di(120), on_loan=True),
    Scope("U-01", "echoendoscope_linear", "5500237", "UX 125L", 1250, _di(130)),
    Scope("U-02", "echoendoscope_radial", "5500611", "UX 125R", 1250, _di(131)),
    Scope("B-09", "bronchoscope", "6121357", "BX 60", 600, _di(140)),
    Scope("B-05", "bronchoscope_fibre", "B40718", "BF 55", 550),
    Scope("B-11", "bronchoscope_ebus", "6180026", "BX 60U", 600, _di(141)),
    Scope("Y-01", "cystoscope", "7014452", "YX 38", 380, _di(150)),
    Scope("Y-02", "cystoscope_fibre", "Y20163", "YF 37", 370),
    Scope("R-01", "ureteroscope", "7120819", "RX 67", 670, _di(151)),
    Scope("R-02", "ureteroscope_fibre", "R11974", "RF 67", 670),
    Scope("K-01", "choledochoscope", "7201135", "KX 45", 450, _di(152)),
    Scope("N-01", "rhinolaryngoscope", "8001764", "NX 30", 300, _di(160)),
    Scope("N-02", "rhinolaryngoscope_fibre", "N05582", "NF 30", 300),
    Scope("N-03", "rhinolaryngoscope_channel", "8003391", "NX 36", 365, _di(161)),
    Scope("T-01", "tee_probe", "9002208", "TX 100", 1000, _di(170)),
)
BY_TAG = {scope.tag: scope for scope in SCOPES}


def serial_where(scope: Scope) -> str:
    """Where the number stands (common practice, no source)."""
    return "on the handle" if scope.kind == "tee_probe" else "under the control body"


def description(scope: Scope) -> dict[str, object]:
    """What the facility records of a scope."""
    return {
        "scope_kind": scope.kind,
        "serial": scope.serial,
        **({} if scope.di is None else {"di": scope.di}),
        "maker": MAKER,
        "model": scope.model,
        "tag": scope.tag,
        "codes": [f"LB1:S:{scope.tag}"],
        "tube_mm": scope.tube_mm,
        **({} if scope.tube_um is None else {"tube_um": scope.tube_um}),
        "serial_where": serial_where(scope),
    }


def registration(scope: Scope) -> dict[str, object]:
    """What is known of a loaner met on the spot."""
    fields = ("scope_kind", "serial", "di", "maker", "model", "tag", "codes")
    return {name: value for name, value in description(scope).items() if name in fields}
