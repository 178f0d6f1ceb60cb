"""Holds messages of the server against the types of the Language Server Protocol.

The types are those of `lsprotocol`, which is generated from the specification's meta model
(LSP 3.17 and the drafts after it).
"""

import json

import cattrs
from lsprotocol import converters, types

# Properties that may be null where they stand, by the specification's "| null".
MAY_BE_NULL = {"version", "arguments", "selectionRange"}

CONVERTER = converters.get_converter(cattrs.Converter(forbid_extra_keys=True))


def problems(method: str, message: dict) -> list[str]:
    """What is wrong with a message of the server; nothing if it is well formed.

    `method` is the message's own or, for an answer, that of the request.
    """
    if message.get("jsonrpc") != "2.0":
        return ["jsonrpc is not 2.0"]
    if "method" in message:
        return _of_call(method, message)
    if ("result" in message) == ("error" in message):
        return ["an answer has either a result or an error"]
    if "error" in message:
        return _of_type(types.ResponseErrorMessage, message)
    if method not in types.METHOD_TO_TYPES:
        return [f"a result of {method or 'nothing that was asked'}"]
    if method == "textDocument/codeAction" and message["result"]:
        # The union of actions and commands is told by the type of `command`, which the types'
        # own reader does not look at.
        kinds = [types.Command if isinstance(one.get("command"), str) else types.CodeAction for one in message["result"]]
        pairs = zip(kinds, message["result"], strict=True)
        return [problem for kind, one in pairs for problem in _of_type(kind, one)]
    answer = types.METHOD_TO_TYPES[method][1]
    return _of_type(answer, message) if answer else ["an answer to a notification"]


def _of_call(method: str, message: dict) -> list[str]:
    if method not in types.METHOD_TO_TYPES:
        return [f"no method of the protocol: {method}"]
    if types.message_direction(method) == "clientToServer":
        return [f"only a client sends {method}"]
    call, answer = types.METHOD_TO_TYPES[method][:2]
    if (answer is not None) != ("id" in message):
        return ["a request has an id, a notification has none"]
    return _of_type(call, message)


def _of_type(kind: type, message: dict) -> list[str]:
    try:
        value = CONVERTER.structure(message, kind)
    except Exception as problem:  # cattrs has many kinds of error, all of which count here
        return ["; ".join(cattrs.transform_error(problem))]
    # What the types do not know, or only by bending it, does not come back.
    back = json.loads(json.dumps(CONVERTER.unstructure(value, kind)))
    found = _nulls(message, "$")
    if _bare(back) != _bare(message):
        found.append(f"read as {json.dumps(_bare(back))[:2000]}")
    return found


def _bare(value):
    """The value without properties that are null."""
    if isinstance(value, dict):
        return {key: _bare(one) for key, one in value.items() if one is not None}
    if isinstance(value, list):
        return [_bare(one) for one in value]
    return value


def _nulls(value, place: str) -> list[str]:
    """Properties that are null and must not be."""
    found = []
    if isinstance(value, dict):
        for key, one in value.items():
            here = f"{place}.{key}"
            top = here in ("$.id", "$.result")
            if one is None and not top and key not in MAY_BE_NULL:
                found.append(f"{here} is null")
            found += _nulls(one, here)
    elif isinstance(value, list):
        for index, one in enumerate(value):
            # Arguments of commands are of any kind.
            if not place.endswith(".arguments"):
                found += _nulls(one, f"{place}[{index}]")
    return found
