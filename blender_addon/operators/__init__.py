"""Operators: read settings, call one core function, show the result."""


def _classes() -> tuple[type, ...]:
    from . import (
        aids,
        beside,
        figure,
        film,
        hand_over,
        judge,
        landmarks,
        lesson,
        look,
        measure,
        open,
        page,
        record,
        room,
        second_take,
        watch,
    )

    modules = (
        open, look, judge, watch, room, measure, aids, figure, film, page, landmarks, lesson, record, second_take, hand_over,
        beside,
    )  # fmt: skip
    return tuple(item for module in modules for item in module.CLASSES)


def register() -> None:
    """Register all operators."""
    import bpy

    for item in _classes():
        bpy.utils.register_class(item)


def unregister() -> None:
    """Take them away again; reviews under way are stopped."""
    import bpy

    from ..review_job import end_all

    end_all()
    for item in reversed(_classes()):
        bpy.utils.unregister_class(item)
