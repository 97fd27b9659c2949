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
