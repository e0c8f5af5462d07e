"""Panels: they only read."""


def _classes() -> tuple[type, ...]:
    from . import beside, corrections, display, hand_over, lesson, record, second_take, take

    return (
        *take.CLASSES, *corrections.CLASSES, *display.CLASSES, *beside.CLASSES, *second_take.CLASSES, *lesson.CLASSES,
        *record.CLASSES, *hand_over.CLASSES,
    )  # fmt: skip


def register() -> None:
    """Register all panels and lists."""
    import bpy

    from . import severity_icon

    severity_icon.register()
    for item in _classes():
        bpy.utils.register_class(item)


def unregister() -> None:
    """Take them away again."""
    import bpy

    from . import severity_icon

    for item in reversed(_classes()):
        bpy.utils.unregister_class(item)
    severity_icon.unregister()
