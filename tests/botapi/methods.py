"""The methods of the Bot API in use: each takes a call and gives its result or refuses it."""

import re
import time
from collections.abc import Callable
from dataclasses import asdict, dataclass, field, replace
from typing import Any

from tests.botapi import facts
from tests.botapi.facts import Refusal, bad_request, from_json
from tests.botapi.markup import Parsed, parse_markup, parse_text, units
from tests.botapi.state import Chat, Delivery, Json, StoredFile, Version, World
from tests.botapi.stored import check_photo, document_json, photo_json, store


@dataclass(frozen=True)
class Upload:
    """A file inside a call."""

    name: str
    mime: str
    content: bytes


@dataclass(frozen=True)
class Call:
    """A call as it came: its arguments as text, its files."""

    args: dict[str, str]
    files: dict[str, Upload] = field(default_factory=dict)


def get_me(world: World, _: Call) -> Json:
    return world.bot | {
        "can_join_groups": True,
        "can_read_all_group_messages": True,
        "supports_inline_queries": False,
    }


def delete_webhook(world: World, call: Call) -> bool:
    if call.args.get("drop_pending_updates") == "true":
        world.updates.clear()
    return True


def send_message(world: World, call: Call) -> Json:
    parsed = _checked_text(call)
    markup = parse_markup(call.args)
    return _deliver(world, call, "text", parsed, markup, {})


def send_photo(world: World, call: Call) -> Json:
    parsed = _checked_caption(call)
    markup = parse_markup(call.args)
    photo = _file(world, call, "photo")
    check_photo(photo.content)
    return _deliver(world, call, "photo", parsed, markup, {"photo": photo_json(photo)}, photo)


def send_document(world: World, call: Call) -> Json:
    parsed = _checked_caption(call)
    markup = parse_markup(call.args)
    document = _file(world, call, "document")
    shown = {"document": document_json(document)}
    return _deliver(world, call, "document", parsed, markup, shown, document)


def edit_message_text(world: World, call: Call) -> Json:
    parsed = _checked_text(call)
    markup = parse_markup(call.args)
    delivery = _to_edit(world, call)
    if delivery.kind != "text":
        raise bad_request(facts.NO_TEXT_TO_EDIT)
    return _edit(world, delivery, parsed.text, parsed.entities, markup)


def edit_message_reply_markup(world: World, call: Call) -> Json:
    markup = parse_markup(call.args)
    delivery = _to_edit(world, call)
    return _edit(world, delivery, delivery.shown.text, delivery.shown.entities, markup)


def delete_message(world: World, call: Call) -> bool:
    chat = world.chat(call.args.get("chat_id", ""))
    key = (chat.id, _message_id(call))
    if world.messages.pop(key, None) is None:
        raise bad_request("message to delete not found")
    if key in world.deliveries:
        world.deliveries[key].deleted_at = time.monotonic()
    world.note("deleted", chat_id=key[0], message_id=key[1])
    world.changed.notify_all()
    return True


def answer_callback_query(world: World, call: Call) -> bool:
    query, text = call.args.get("callback_query_id", ""), call.args.get("text", "")
    asked = world.queries.get(query)
    lifetime = world.callback_lifetime
    if asked is None or (lifetime is not None and time.monotonic() - asked > lifetime):
        raise bad_request(facts.QUERY_OLD)
    if units(text) > facts.CALLBACK_ANSWER_UNITS:
        raise bad_request("MESSAGE_TOO_LONG")
    answer = {"id": query, "text": text, "alert": call.args.get("show_alert") == "true"}
    world.answers.append(answer)
    world.note("answered", **answer)
    world.changed.notify_all()
    return True


def send_chat_action(world: World, call: Call) -> bool:
    chat = world.chat(call.args.get("chat_id", ""))
    action = call.args.get("action", "")
    if action not in facts.CHAT_ACTIONS:
        raise bad_request("wrong parameter action in request")
    world.actions.append({"chat_id": chat.id, "action": action})
    return True


def set_my_commands(world: World, call: Call) -> bool:
    commands = from_json(call.args.get("commands") or "[]", "commands")
    if len(commands) > facts.COMMANDS:
        raise bad_request("BOT_COMMANDS_TOO_MUCH")
    for command in commands:
        if not re.fullmatch(rf"[a-z0-9_]{{1,{facts.COMMAND_UNITS}}}", command["command"]):
            raise bad_request("BOT_COMMAND_INVALID")
        if not 1 <= units(command["description"]) <= facts.COMMAND_DESCRIPTION_UNITS:
            raise bad_request("BOT_COMMAND_DESCRIPTION_INVALID")
    world.commands = commands
    return True


def get_file(world: World, call: Call) -> Json:
    kept = world.files.get(call.args.get("file_id", ""))
    if kept is None:
        raise bad_request(facts.FILE_UNKNOWN)
    if len(kept.content) > facts.DOWNLOAD_BYTES:
        raise bad_request(facts.FILE_BIG)
    return kept.as_json() | {"file_path": kept.path}


METHODS: dict[str, Callable[[World, Call], Any]] = {
    "getme": get_me,
    "deletewebhook": delete_webhook,
    "sendmessage": send_message,
    "sendphoto": send_photo,
    "senddocument": send_document,
    "editmessagetext": edit_message_text,
    "editmessagereplymarkup": edit_message_reply_markup,
    "deletemessage": delete_message,
    "answercallbackquery": answer_callback_query,
    "sendchataction": send_chat_action,
    "setmycommands": set_my_commands,
    "getfile": get_file,
}


def _checked_text(call: Call) -> Parsed:
    parsed = parse_text(call.args, field="text", entities_field="entities")
    if not parsed.text:
        raise bad_request(facts.TEXT_EMPTY)
    if units(parsed.text) > facts.TEXT_UNITS:
        raise bad_request(facts.TEXT_LONG)
    return parsed


def _checked_caption(call: Call) -> Parsed:
    parsed = parse_text(call.args, field="caption", entities_field="caption_entities")
    if units(parsed.text) > facts.CAPTION_UNITS:
        raise bad_request(facts.CAPTION_LONG)
    return parsed


def _file(world: World, call: Call, kind: str) -> StoredFile:
    """Return the file a call brings along, or one it names by an id it was given."""
    named = call.args.get(kind, "")
    upload = call.files.get(named.removeprefix("attach://") or kind)
    if upload is None:
        if named not in world.files:
            raise bad_request(f"there is no {kind} in the request")
        return world.files[named]
    if not upload.content:
        raise bad_request("file must be non-empty")
    if len(upload.content) > facts.UPLOAD_BYTES:
        raise Refusal(413, "Request Entity Too Large")
    return store(world, upload.name, upload.content, upload.mime, folder=f"{kind}s")


def _deliver(
    world: World,
    call: Call,
    kind: str,
    parsed: Parsed,
    markup: Json | None,
    content: Json,
    kept: StoredFile | None = None,
) -> Json:
    chat = world.chat(call.args.get("chat_id", ""))
    reply_to = _replied(world, call, chat)
    now = time.monotonic()
    world.limits.admit(chat.id, now, group=chat.type != "private")
    delivery = Delivery(
        chat_id=chat.id,
        message_id=world.next_message(),
        kind=kind,
        versions=[Version(now, parsed.text, parsed.entities, markup)],
        reply_to=reply_to,
        file_name=kept.name if kept else None,
        file_id=kept.file_id if kept else None,
        silent=call.args.get("disable_notification") == "true",
    )
    message: Json = {
        "message_id": delivery.message_id,
        "from": world.bot,
        "chat": chat.as_json(),
        "date": int(time.time()),
        **content,
    }
    if reply_to is not None:
        message["reply_to_message"] = world.messages[chat.id, reply_to]
    _write(message, delivery)
    world.keep_delivery(delivery, message)
    return message


def _replied(world: World, call: Call, chat: Chat) -> int | None:
    given = call.args.get("reply_parameters")
    if not given:
        return None
    reply = from_json(given, "reply parameters")
    if (chat.id, reply.get("message_id")) in world.messages:
        return int(reply["message_id"])
    if reply.get("allow_sending_without_reply"):
        return None
    raise bad_request("message to be replied not found")


def _write(message: Json, delivery: Delivery) -> None:
    """Put what the message says now into its JSON form; reply keyboards are not shown there."""
    shown = delivery.shown
    field_name, entities = (
        ("text", "entities") if delivery.kind == "text" else ("caption", "caption_entities")
    )
    for name in (field_name, entities, "reply_markup"):
        message.pop(name, None)
    if shown.text:
        message[field_name] = shown.text
    if shown.entities:
        message[entities] = shown.entities
    if shown.markup and "inline_keyboard" in shown.markup:
        message["reply_markup"] = shown.markup


def _message_id(call: Call) -> int:
    given = call.args.get("message_id", "")
    if not given.isdigit() or int(given) == 0:
        raise bad_request("message identifier is not specified")
    return int(given)


def _to_edit(world: World, call: Call) -> Delivery:
    chat = world.chat(call.args.get("chat_id", ""))
    key = (chat.id, _message_id(call))
    if key not in world.messages:
        raise bad_request("message to edit not found")
    if key not in world.deliveries:
        raise bad_request(facts.NOT_OURS)
    return world.deliveries[key]


def _edit(
    world: World, delivery: Delivery, text: str, entities: list[Json], markup: Json | None
) -> Json:
    old = delivery.shown
    new = Version(time.monotonic(), text, entities, markup)
    if replace(old, at=new.at) == new:
        raise bad_request(facts.NOT_MODIFIED)
    delivery.versions.append(new)
    message = world.messages[delivery.chat_id, delivery.message_id]
    _write(message, delivery)
    message["edit_date"] = int(time.time())
    edited = {"chat_id": delivery.chat_id, "message_id": delivery.message_id}
    world.note("edited", **edited, version=asdict(new))
    world.changed.notify_all()
    return message
