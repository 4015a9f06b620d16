"""``festoon serve``: the app on this computer."""

from __future__ import annotations

from pathlib import Path

import click

from festoon.cli.records_common import by_option, plainly, who_acts

LOOPBACK = ("127.0.0.1", "localhost", "::1")


@click.command()
@click.option(
    "--port", type=click.IntRange(0, 65535), default=None, help="Port [default: the first free one from 8737]."
)
@click.option("--host", default=LOOPBACK[0], show_default=True, help="This computer only: any other is refused.")
@click.option("--no-browser", is_flag=True, help="Print the address and open nothing.")
@by_option
@plainly
def serve(port: int | None, host: str, no_browser: bool, by: str | None) -> None:
    """Open the app on this computer.

    It listens on this computer only and uses no network. The printed address holds a token: whoever has it can work on
    the records. Stop it with Ctrl-C; nothing is lost.

    \b
    Example:
      festoon serve
      festoon serve --port 8800 --no-browser
    """
    if host not in LOOPBACK:
        raise click.BadParameter(
            "the app has no accounts yet, so it listens on this computer only", param_hint="--host"
        )
    run(port=port, by=who_acts(by), opens=not no_browser)


def run_demo(folder: Path) -> None:
    """Open the app on the demo cases: in a store of their own below their folder, never among a practice's cases."""
    from festoon.store.opening import open_store
    from festoon.workflow.demo import keep_demo_cases

    store_folder = folder / "records"
    first = keep_demo_cases(open_store(store_folder), by="demo")[0]
    run(port=None, by="demo", opens=True, to=f"/cases/{first}/plan", store_folder=store_folder)


def run(*, port: int | None, by: str, opens: bool, to: str = "/", store_folder: Path | None = None) -> None:
    """Run the app until it is stopped."""
    from festoon.web.serve import serve as serve_app

    def tell(address: str) -> None:
        click.echo(f"festoon is open at  {address}")
        click.echo("It informs a licensed clinician; it never decides. Ctrl-C stops it.")

    serve_app(port=port, by=by, tell=tell, opens=opens, to=to, store_folder=store_folder)
