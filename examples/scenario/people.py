"""The invented people of the invented Larkmoor Surgery. Numbers come from the published NHS test range."""

from dataclasses import dataclass
from datetime import date

NHS = "https://fhir.nhs.uk/Id/nhs-number"


@dataclass(frozen=True)
class Someone:
    """A person of the scenario. `registered` False: the record has nobody with this number."""

    number: str
    given: str
    family: str
    born: date
    sex: str
    registered: bool = True

    @property
    def patient(self) -> dict[str, object]:
        """The person as the record holds them (FHIR R4 Patient)."""
        return {
            "resourceType": "Patient",
            "active": True,
            "identifier": [{"system": NHS, "value": self.number}],
            "name": [{"use": "official", "family": self.family, "given": [self.given]}],
            "gender": self.sex,
            "birthDate": self.born.isoformat(),
        }


ADA = Someone("9990000018", "Ada", "Brookfern", date(1961, 4, 9), "female")
MIRO = Someone("9990000026", "Miro", "Saltlea", date(1954, 11, 23), "male")
INES = Someone("9990000034", "Ines", "Quillby", date(1970, 7, 2), "female")
TOMAS = Someone("9990000042", "Tomas", "Underhay", date(1949, 1, 30), "male")
WREN = Someone("9990000050", "Wren", "Copsely", date(1983, 9, 14), "female")
BRAM = Someone("9990000069", "Bram", "Fennigsby", date(1966, 2, 28), "male")
ODA = Someone("9990000077", "Oda", "Thistlewick", date(1958, 12, 5), "female", registered=False)
JORY = Someone("9990000085", "Jory", "Nightmere", date(1975, 5, 19), "male")

EVERYBODY = (ADA, MIRO, INES, TOMAS, WREN, BRAM, ODA, JORY)
