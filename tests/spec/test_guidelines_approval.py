"""A shipped guideline whose deciding numbers were not seen at their source works in production only when approved."""

from pathlib import Path

import pytest

from gateway.errors import SettingsError
from gateway.settings import EXAMPLE, Settings, load, rules
from gateway.settings.maps import load as load_mappings
from tests.spec.test_guideline_limits import NAMES, NEED_APPROVAL

MAPPINGS = load_mappings(None)
APPROVAL = 'approved_by = "Dr A. Example"\napproved_on = 2026-01-05\napproved_source = "the guideline, table 3"\n'


def settings(tmp_path: Path, guideline: str, production: bool) -> Settings:
    path = tmp_path / "gateway.toml"
    path.write_text(EXAMPLE)
    environ = {"BP_GATEWAY__SITE__GUIDELINE": guideline, "BP_GATEWAY__SITE__PRODUCTION": str(production).lower()}
    return load(path, environ)


@pytest.mark.parametrize("name", NAMES)
def test_production_takes_only_what_was_seen_or_approved(name: str, tmp_path: Path) -> None:
    assert rules(settings(tmp_path, name, production=False), MAPPINGS).guideline.id == name
    live = settings(tmp_path, name, production=True)
    if name not in NEED_APPROVAL:
        assert rules(live, MAPPINGS).guideline.id == name
        return
    with pytest.raises(SettingsError, match=f"the deciding numbers of {name} are not all verified"):
        rules(live, MAPPINGS)


@pytest.mark.parametrize("name", sorted(NEED_APPROVAL))
def test_a_copy_with_a_named_approver_is_taken(name: str, tmp_path: Path) -> None:
    copy = tmp_path / "maps" / "guidelines" / "ours.toml"
    copy.parent.mkdir(parents=True)
    copy.write_text(APPROVAL + MAPPINGS.origins[f"guidelines/{name}"].read_text())
    chosen = rules(settings(tmp_path, name, production=True), load_mappings(tmp_path / "maps"))
    assert chosen.guideline.approved_by == "Dr A. Example"
