"""Panels: they only read."""


def _classes() -> tuple[type, ...]:
    from . import beside, corrections, display, hand_over, lesson, record, second_take, take

    return (
        *take.CLASSES, *corrections.CLASSES, *display.CLASSES, *beside.CLASSES, *second_take.CLASSES, *lesson.CLASSES,
        *record.CLASSES, *hand_over.CLASSES,
    )  # fmt: skip


def register() -> None:
    """Register all panels and lists."""
    from ..blender_types import register_classes
    from . import severity_icon

    severity_icon.register()
    register_classes(_classes())


def unregister() -> None:
    """Take them away again."""
    from ..blender_types import unregister_classes
    from . import severity_icon

    unregister_classes(_classes())
    severity_icon.unregister()
