"""The shipped mapping files and a site's own laid over them."""

from pathlib import Path

import pytest

from gateway.errors import MappingError
from gateway.settings.maps import load, shipped_folder

SHIPPED = load(None)


@pytest.fixture
def site(tmp_path: Path) -> Path:
    for kind in ("sources", "codes", "guidelines", "limits", "profiles"):
        (tmp_path / kind).mkdir()
    return tmp_path


def copied(site: Path, origin: str, name: str, **changes: str) -> Path:
    text = SHIPPED.origins[origin].read_text()
    for old, new in changes.items():
        assert old in text
        text = text.replace(old, new)
    path = site / origin.split("/")[0] / name
    path.write_text(text)
    return path


def faults(site: Path) -> tuple[str, ...]:
    with pytest.raises(MappingError) as raised:
        load(site)
    return raised.value.problems


def test_everything_that_is_shipped_is_whole() -> None:
    assert {"plain"} <= set(SHIPPED.sources)
    assert {"esc-2024", "nice-ng136", "aha-acc-2025"} <= set(SHIPPED.guidelines)
    assert "widest" in SHIPPED.limits and "international" in SHIPPED.profiles
    assert SHIPPED.codes.systems and SHIPPED.codes.concepts
    assert SHIPPED.folders == (shipped_folder(),)


def test_every_shipped_file_is_read() -> None:
    for kind in ("sources", "guidelines", "limits", "profiles"):
        files = set((shipped_folder() / kind).glob("*.toml"))
        assert {path for name, path in SHIPPED.origins.items() if name.startswith(f"{kind}/")} == files


def test_a_site_adds_and_replaces_by_id(site: Path) -> None:
    added = copied(site, "limits/widest", "ours.toml", **{'id = "widest"': 'id = "ours"'})
    replaced = copied(site, "guidelines/esc-2024", "esc.toml")
    mappings = load(site)
    assert {"widest", "ours"} <= set(mappings.limits)
    assert mappings.origins["limits/ours"] == added
    assert mappings.origins["guidelines/esc-2024"] == replaced
    assert mappings.origins["guidelines/nice-ng136"].parent == shipped_folder() / "guidelines"
    assert mappings.folders == (shipped_folder(), site)


def test_every_fault_of_every_file_is_told_at_once(site: Path) -> None:
    (site / "limits" / "a.toml").write_text('id = "a"\ntitel = "x"\n')
    (site / "guidelines" / "b.toml").write_text("= broken")
    (site / "codes" / "c.toml").write_text('id = "c"\n')
    (site / "profiles" / "d.toml").write_bytes(b"\xff\xfe")
    told = faults(site)
    for name in (
        "a.toml: titel: unknown key; did you mean 'title'?",
        "b.toml: is not TOML",
        "c.toml:",
        "d.toml: is not",
    ):
        assert any(name in line for line in told), (name, told)


def test_the_same_id_twice_in_one_folder_is_a_fault(site: Path) -> None:
    copied(site, "limits/widest", "a.toml")
    copied(site, "limits/widest", "b.toml")
    assert faults(site) == (f"{site}/limits/b.toml: the id 'widest' is also in a.toml; give each file its own",)


def test_files_where_nobody_looks_are_told(site: Path) -> None:
    (site / "guideline").mkdir()
    (site / "stray.toml").write_text("")
    assert faults(site) == (
        f"{site}/guideline: no folder of this name is read; did you mean 'guidelines'?",
        f"{site}/stray.toml: lies outside the folders that are read "
        "(sources, codes, guidelines, limits, profiles, words); move it into one",
    )


def test_a_site_folder_that_is_not_there_is_told(tmp_path: Path) -> None:
    assert faults(tmp_path / "nothing") == (
        f"mappings.folder: {tmp_path}/nothing cannot be listed (No such file or directory)",
    )


def test_a_file_that_cannot_be_read_is_told(site: Path) -> None:
    (site / "limits" / "a.toml").symlink_to(site / "nothing")
    assert faults(site) == (f"{site}/limits/a.toml: cannot be read (No such file or directory)",)
