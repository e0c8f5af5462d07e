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
    from ..blender_types import register_classes

    register_classes(_classes())


def unregister() -> None:
    """Take them away again; reviews under way are stopped."""
    from ..blender_types import unregister_classes
    from ..review_job import end_all

    end_all()
    unregister_classes(_classes())
