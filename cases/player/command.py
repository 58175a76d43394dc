"""stub"""
import typer
def add_player(app: typer.Typer) -> None:
    """x"""
