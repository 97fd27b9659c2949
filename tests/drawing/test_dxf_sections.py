"""A section that comes twice; DXF reference, "General DXF file structure"."""

import io

import ezdxf
import pytest

from toolpath.drawing.dxf import read_dxf
from toolpath.drawing.dxf_sections import require_single_sections
from toolpath.errors import DrawingError


def drawing():
    made = ezdxf.new(units=4)
    made.modelspace().add_circle((0, 0), 10, dxfattribs={"layer": "CUT"})
    return made


def text(made):
    stream = io.StringIO()
    made.write(stream)
    return stream.getvalue()


SECOND = (
    "  0\nSECTION\n999\nmore\n  2\nENTITIES\n  0\nCIRCLE\n  8\nCUT\n 10\n50.0\n 20\n0.0\n 40\n5.0\n"
    "  0\nENDSEC\n"
)


@pytest.mark.parametrize("ends", ["\n", "\r\n"])
def test_a_second_section_of_entities_is_refused(tmp_path, ends):
    whole = text(drawing())
    path = tmp_path / "twice.dxf"
    at = whole.rindex("  0\nEOF")
    path.write_text((whole[:at] + SECOND + whole[at:]).replace("\n", ends), newline="")
    with pytest.raises(DrawingError, match=r"twice\.dxf: section ENTITIES comes 2 times"):
        read_dxf(path, "CUT", unit=None, join=0.01)


def test_text_and_binary_drawings_have_each_section_once(tmp_path):
    made = drawing()
    for name, binary in (("text.dxf", False), ("binary.dxf", True)):
        made.saveas(tmp_path / name, fmt="bin" if binary else "asc")
        require_single_sections(tmp_path / name)
        assert len(read_dxf(tmp_path / name, "CUT", unit=None, join=0.01)) == 1


def test_a_second_section_of_a_binary_drawing_is_refused(tmp_path):
    path = tmp_path / "twice.dxf"
    drawing().saveas(path, fmt="bin")
    data = path.read_bytes()
    begin = data.index(b"SECTION\0\x02\0ENTITIES") - 2
    end = data.index(b"ENDSEC\0", begin) + len(b"ENDSEC\0")
    path.write_bytes(data[:end] + data[begin:end] + data[end:])
    with pytest.raises(DrawingError, match="ENTITIES comes 2 times"):
        read_dxf(path, "CUT", unit=None, join=0.01)
