"""3MF (3D Manufacturing Format, core specification 1): a zip of XML, in mm."""

from __future__ import annotations

import io
import zipfile
from xml.sax.saxutils import escape

from springloom.solid.mesh import Mesh

_TYPES = """<?xml version="1.0" encoding="UTF-8"?>
<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">
<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>
<Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/>
</Types>
"""
_RELATIONS = """<?xml version="1.0" encoding="UTF-8"?>
<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">
<Relationship Id="model" Target="/3D/3dmodel.model" \
Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/>
</Relationships>
"""
_MODEL = """<?xml version="1.0" encoding="UTF-8"?>
<model unit="millimeter" xml:lang="en" \
xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02">
<metadata name="Title">{title}</metadata>
<metadata name="Description">Chord tolerance {chord:g} mm</metadata>
<metadata name="Application">Springloom</metadata>
<resources>
<object id="1" type="model" name="{name}">
<mesh>
<vertices>
{vertices}
</vertices>
<triangles>
{triangles}
</triangles>
</mesh>
</object>
</resources>
<build>
<item objectid="1"/>
</build>
</model>
"""
_FIRST_DAY = (1980, 1, 1, 0, 0, 0)  # the earliest a zip can say: like meshes give like files


def threemf_bytes(mesh: Mesh, name: str) -> bytes:
    """Return the mesh in mm, with its name and its chord tolerance as metadata."""
    places = (1e3 * mesh.vertices).tolist()
    vertices = [f'<vertex x="{x:.6f}" y="{y:.6f}" z="{z:.6f}"/>' for x, y, z in places]
    corners = mesh.triangles.tolist()
    triangles = [f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in corners]
    title = escape(_printable(name))
    model = _MODEL.format(
        title=title, name=title.replace('"', "&quot;"), chord=1e3 * mesh.chord_m,
        vertices="\n".join(vertices), triangles="\n".join(triangles),
    )
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as package:
        for path, text in (("[Content_Types].xml", _TYPES), ("_rels/.rels", _RELATIONS),
                           ("3D/3dmodel.model", model)):
            entry = zipfile.ZipInfo(path, _FIRST_DAY)
            entry.compress_type = zipfile.ZIP_DEFLATED
            package.writestr(entry, text.encode("utf-8"))
    return out.getvalue()


def _printable(name: str) -> str:
    """The name without the control characters that XML can't hold."""
    return "".join(letter if letter.isprintable() else " " for letter in name)
