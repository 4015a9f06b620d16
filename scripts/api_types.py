"""The types of the API for the components, from its published OpenAPI: ``python scripts/api_types.py`` writes ``look/api-types.d.ts``.

A component names them in its JSDoc, ``@type {import("./api-types").Preview}``, and ``tsc -p front/tsconfig.look.json`` holds it to them.
"""

from __future__ import annotations

import json
import re
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from festoon.store.opening import open_store
from festoon.web.app import bare_app
from festoon.web.desk import Desk
from festoon.web.security import Door

TARGET = Path(__file__).resolve().parent.parent / "src" / "festoon" / "web" / "look" / "api-types.d.ts"
_PLAIN = {"string": "string", "integer": "number", "number": "number", "boolean": "boolean", "null": "null"}
Schema = Mapping[str, Any]


def openapi() -> dict[str, Any]:
    """The document that the app publishes."""
    with tempfile.TemporaryDirectory() as folder:
        return bare_app(Desk(open_store(Path(folder)), Door("none", 0), "nobody")).openapi()


def written(document: Mapping[str, Any]) -> str:
    """The types of every schema, and of what each route takes and answers."""
    lines = ["// Made by scripts/api_types.py from the published OpenAPI; do not edit.", ""]
    for name, schema in sorted(document["components"]["schemas"].items()):
        lines += [*_comment(schema), f"export type {_name(name)} = {type_of(schema)};"]
    lines += ["", "/** What each route takes and answers. */", "export interface Routes {"]
    for path, operations in sorted(document["paths"].items()):
        for method, operation in sorted(operations.items()):
            body, answer = _content(operation.get("requestBody", {})), _answer(operation["responses"])
            lines.append(f'  "{method.upper()} {path}": {{ body: {body}; answer: {answer} }};')
    return "\n".join([*lines, "}", ""])


def type_of(schema: Schema) -> str:
    """A schema as a TypeScript type."""
    if "$ref" in schema:
        return _name(schema["$ref"].rsplit("/", 1)[-1])
    if "const" in schema:
        return json.dumps(schema["const"])
    if "enum" in schema:
        return " | ".join(json.dumps(value) for value in schema["enum"])
    for key, sign in (("anyOf", " | "), ("oneOf", " | "), ("allOf", " & ")):
        if key in schema:
            return "(" + sign.join(dict.fromkeys(type_of(part) for part in schema[key])) + ")"
    kind = schema.get("type")
    if kind == "array":
        if "prefixItems" in schema:
            return "[" + ", ".join(type_of(part) for part in schema["prefixItems"]) + "]"
        return f"Array<{type_of(schema.get('items', {}))}>"
    if kind == "string" and ("contentMediaType" in schema or schema.get("format") == "binary"):
        return "Blob"
    if kind == "object" or "properties" in schema:
        return _object(schema)
    return _PLAIN.get(str(kind), "unknown")


def _object(schema: Schema) -> str:
    required = set(schema.get("required", ()))
    fields = [
        f"{json.dumps(name)}{'' if name in required else '?'}: {type_of(part)}"
        for name, part in schema.get("properties", {}).items()
    ]
    if not fields:
        more = schema.get("additionalProperties", True)
        return f"Record<string, {type_of(more) if isinstance(more, Mapping) else 'unknown'}>"
    return "{ " + "; ".join(fields) + " }"


def _answer(responses: Mapping[str, Any]) -> str:
    return next((_content(answer) for status, answer in sorted(responses.items()) if status.startswith("2")), "never")


def _content(part: Mapping[str, Any]) -> str:
    for media, content in part.get("content", {}).items():
        if media in ("application/json", "multipart/form-data", "application/x-www-form-urlencoded"):
            return type_of(content.get("schema", {}))
        return "Blob"
    return "never"


def _name(name: str) -> str:
    return re.sub(r"\W", "_", name)


def _comment(schema: Schema) -> list[str]:
    first = str(schema.get("description", "")).split("\n\n")[0].replace("\n", " ").replace("*/", "* /")
    return [f"/** {first} */"] if first else []


if __name__ == "__main__":
    TARGET.write_text(written(openapi()), "utf-8")
