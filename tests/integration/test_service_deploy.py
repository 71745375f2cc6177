"""What deploy/ says is what the code does: settings, commands, units, files; and a backup that restores."""

from __future__ import annotations

import os
import re
import shutil
import sqlite3
import subprocess
import sys
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import pytest
import yaml  # ships no types

from service.app import make_app
from service.settings import PREFIX, Settings, read_settings
from service.store.unit_of_work import SqlStore
from service.usecases.ask.orders import list_orders, store_order
from tests.service_fakes import order_document
from worker import backup as backups
from worker.backup import backup
from worker.serve import upgrade_store_to_newest
from worker.wiring import plant_of_settings

ROOT = Path(__file__).resolve().parents[2]
DEPLOY = ROOT / "deploy"


def example() -> dict[str, tuple[str, bool]]:
    """The settings example: value and whether it is set or only shown, by name."""
    lines = re.findall(r"^(#?)([A-Z_]+)=(.*)$", (DEPLOY / "settings.example.env").read_text(encoding="utf-8"), re.M)
    return {name: (value, not hidden) for hidden, name, value in lines}


def compose() -> Any:
    return yaml.safe_load((DEPLOY / "compose.yaml").read_text(encoding="utf-8"))


def test_the_example_names_every_setting_with_its_default() -> None:
    found = {name.removeprefix(PREFIX): value for name, value in example().items() if name.startswith(PREFIX)}
    assert set(found) == {item.name.upper() for item in fields(Settings)}
    shown = read_settings({name: value for name, (value, on) in example().items() if name.startswith(PREFIX) and not on})
    assert replace(shown, data_dir=Settings().data_dir) == Settings()


def test_the_example_gives_the_scaled_mode_with_one_password() -> None:
    told = {name: value for name, (value, on) in example().items() if on}
    settings = read_settings(told)
    assert settings.database_url.startswith("postgresql://sawbill:")
    assert told["POSTGRES_PASSWORD"] in settings.database_url
    services = compose()["services"]
    assert settings.broker.startswith("redis://broker:")
    assert {"store", "broker"} <= set(services)


def test_settings_survive_the_way_to_a_child_process() -> None:
    settings = Settings(database="postgresql://u:p@h/d", port=1, lease_seconds=0.5, log_json=True)
    assert read_settings(settings.environment()) == settings


@pytest.mark.parametrize(("name", "value"), [("PORT", "x"), ("LEASE_SECONDS", "soon"), ("LOG_JSON", "perhaps")])
def test_a_setting_that_cannot_be_read_is_named(name: str, value: str) -> None:
    with pytest.raises(ValueError, match=f"SAWBILL_{name} is '{value}'"):
        read_settings({f"SAWBILL_{name}": value})


def test_compose_names_only_what_there_is() -> None:
    told = compose()
    for name, service in told["services"].items():
        for other in service.get("depends_on", {}):
            assert other in told["services"], (name, other)
        for volume in service.get("volumes", []):
            assert volume.partition(":")[0] in told["volumes"], (name, volume)
        assert "privileged" not in service
        if "build" in service:
            assert (DEPLOY / service["build"]["context"] / service["build"]["dockerfile"]).is_file()
    published = [port for service in told["services"].values() for port in service.get("ports", [])]
    assert published == ["127.0.0.1:8040:8040"]  # nothing else is open, and that not to the world
    assert f":{Settings().port}" in published[0]


def test_every_command_of_compose_image_and_units_exists() -> None:
    commands = [service["command"] for service in compose()["services"].values() if service.get("image") == "sawbill:local"]
    image = (DEPLOY / "Containerfile").read_text(encoding="utf-8")
    commands += [re.findall(r'"([^"]+)"', line) for line in image.splitlines() if line.startswith("CMD")]
    for unit in sorted((DEPLOY / "systemd").glob("*.service")):
        line = re.search(r"^ExecStart=/opt/sawbill/bin/(.*)$", unit.read_text(encoding="utf-8"), re.M)
        assert line is not None, unit
        commands.append(line[1].split())
    assert len(commands) == 6
    for command in commands:
        assert (Path(sys.executable).parent / command[0]).exists(), command
        for flag in ("-A", "-m"):
            if flag in command:
                module = command[command.index(flag) + 1].replace(".", "/")
                assert (ROOT / f"{module}.py").is_file(), command
        if command[0] == "sawbill":
            asked = [Path(sys.executable).parent / "sawbill", command[1], "--help"]
            assert subprocess.run(asked, capture_output=True, check=False).returncode == 0


def test_the_image_copies_what_there_is_and_does_not_run_as_root() -> None:
    text = (DEPLOY / "Containerfile").read_text(encoding="utf-8")
    for line in text.splitlines():
        if line.startswith("COPY") and "--from" not in line:
            for source in line.split()[1:-1]:
                assert (ROOT / source).exists(), source
    assert "USER sawbill" in text
    assert "--require-hashes" in text


def test_the_units_are_sound(tmp_path: Path) -> None:
    tool = shutil.which("systemd-analyze")
    if tool is None:
        pytest.skip("systemd-analyze is not on this machine")
    for unit in sorted((DEPLOY / "systemd").iterdir()):
        here = unit.read_text(encoding="utf-8").replace("/opt/sawbill/bin", str(Path(sys.executable).parent))
        (tmp_path / unit.name).write_text(here, encoding="utf-8")
    for unit in sorted(tmp_path.iterdir()):
        told = subprocess.run([tool, "verify", "--man=no", str(unit)], capture_output=True, text=True, check=False)
        assert (told.returncode, told.stderr) == (0, ""), unit.name


def test_the_proxy_lets_through_as_much_as_the_service_and_does_not_hold_progress_back() -> None:
    text = (DEPLOY / "proxy.nginx.conf").read_text(encoding="utf-8")
    assert "client_max_body_size 4m;" in text
    assert Settings().order_bytes <= 4 * 1024 * 1024
    place = text[text.index("progress$") :]
    assert "proxy_buffering off;" in place[: place.index("}")]


def test_a_copy_made_while_the_store_is_written_restores(tmp_path: Path) -> None:
    settings = Settings(data_dir=str(tmp_path / "data"))
    upgrade_store_to_newest(settings)
    store = SqlStore(settings.database_url)
    plant = plant_of_settings(settings)
    store_order(order_document("a"), plant, store=store)
    with store.writing() as tx:
        assert tx.orders.newest("b") is None
        copy = backup(settings, tmp_path / "copies")
    store_order(order_document("b"), plant, store=store)
    store.close()
    restored = SqlStore(f"sqlite:///{copy}")
    assert [line.id for line in list_orders(store=restored).orders] == ["a"]
    restored.close()


def test_only_the_newest_fourteen_copies_are_kept(tmp_path: Path) -> None:
    settings = Settings(data_dir=str(tmp_path / "data"))
    upgrade_store_to_newest(settings)
    made = [backup(settings, tmp_path / "copies") for _ in range(16)]
    assert sorted((tmp_path / "copies").iterdir()) == made[2:]


def test_failed_nights_push_no_good_copy_out(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Issue 12, 31: fourteen failed nights left one whole copy of fourteen."""
    settings, folder = Settings(data_dir=str(tmp_path / "data")), tmp_path / "copies"
    upgrade_store_to_newest(settings)
    good = [backup(settings, folder) for _ in range(3)]
    Path(folder / "sawbill-20310505T023000000000.part").write_bytes(b"cut off")

    def full(store: Path, to: Path) -> None:
        to.write_bytes(b"half")
        raise sqlite3.OperationalError("database or disk is full")

    with monkeypatch.context() as broken:
        broken.setattr(backups, "_copy", full)
        for _ in range(backups.KEPT + 2):
            with pytest.raises(backups.NotBackedUp, match="disk is full"):
                backup(settings, folder)
    assert sorted(folder.iterdir()) == good
    assert backup(settings, folder) not in good


def test_a_store_that_is_damaged_gives_no_copy(tmp_path: Path) -> None:
    settings = Settings(data_dir=str(tmp_path / "data"))
    upgrade_store_to_newest(settings)
    file = tmp_path / "data" / "sawbill.db"
    body = bytearray(file.read_bytes())
    body[4096:12288] = b"\xff" * 8192  # two pages of it
    file.write_bytes(body)
    with pytest.raises(backups.NotBackedUp):
        backup(settings, tmp_path / "copies")
    assert list((tmp_path / "copies").iterdir()) == []


def test_store_and_copies_are_readable_to_their_owner_only(tmp_path: Path) -> None:
    settings = Settings(data_dir=str(tmp_path / "data"))
    upgrade_store_to_newest(settings)
    copy = backup(settings, tmp_path / "copies")
    for path in (tmp_path / "data", tmp_path / "copies"):
        assert path.stat().st_mode & 0o777 == 0o700
        assert all(one.stat().st_mode & 0o777 == 0o600 for one in path.iterdir())
    assert copy.exists()


def test_the_backup_unit_may_write_where_it_writes_and_readme_says_so() -> None:
    unit = (DEPLOY / "systemd" / "sawbill-backup.service").read_text(encoding="utf-8")
    folder = re.search(r"worker\.backup (\S+)$", unit, re.M)
    assert folder is not None
    assert f"ReadWritePaths=-{folder[1]}\n" in unit
    assert folder[1] in (DEPLOY / "README.md").read_text(encoding="utf-8")


def test_all_that_the_image_installs_is_hashed_and_its_loops_are_compiled() -> None:
    lines = (DEPLOY / "Containerfile").read_text(encoding="utf-8").replace("\\\n", " ").splitlines()
    installs = [part for line in lines if not line.startswith("#") for part in line.split("&&") if "pip install" in part]
    assert len(installs) == 3
    for one in installs:
        assert "--require-hashes" in one or ("--no-deps" in one and one.rstrip().endswith(" .")), one
    assert any("-m service.warm_up" in line for line in lines)
    assert sum("NUMBA_CPU_NAME=generic" in line for line in lines) == 2  # compiled for, and run on, any processor of the kind


def test_a_folder_that_cannot_be_written_is_told_without_a_traceback() -> None:
    asked = [sys.executable, "-m", "service.cli", "serve", "--port", "1"]
    there = {**os.environ, "SAWBILL_DATA_DIR": "/proc/nothing-here"}
    told = subprocess.run(asked, capture_output=True, text=True, check=False, env=there, cwd=ROOT)
    assert told.returncode == 2
    assert "Traceback" not in told.stderr
    assert "/proc/nothing-here" in told.stderr


def test_a_store_on_postgresql_is_not_copied_as_if_it_were_a_file(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="pg_dump"):
        backup(Settings(database="postgresql://h/d"), tmp_path)


def test_a_faulty_plant_catalog_stops_the_start(tmp_path: Path) -> None:
    wrong = tmp_path / "plant.toml"
    wrong.write_text("format = 1\n", encoding="utf-8")
    settings = Settings(data_dir=str(tmp_path), plant=str(wrong))
    with pytest.raises(ValueError, match="is missing"):
        make_app(settings)
