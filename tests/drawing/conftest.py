import ezdxf
import pytest


@pytest.fixture
def draw(tmp_path):
    """Write a drawing made by a function of (model space, document), and give its path."""

    def made(make, units=4, version="R2010", name="part.dxf", fmt="asc"):
        doc = ezdxf.new(version)
        doc.header["$INSUNITS"] = units
        make(doc.modelspace(), doc)
        path = tmp_path / name
        doc.saveas(path, fmt=fmt)
        return path

    return made


@pytest.fixture
def svg(tmp_path):
    """Write an SVG drawing of a body and the svg element's attributes, and give its path."""
    names = 'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
    page = 'width="100mm" height="50mm" viewBox="0 0 200 100"'

    def made(body, head=page, before=""):
        path = tmp_path / "part.svg"
        path.write_text(f"{before}<svg {names} {head}>{body}</svg>", encoding="utf-8")
        return path

    return made
