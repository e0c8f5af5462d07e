"""Where Blender's API and the checking of types meet: how properties are declared, what operators answer, what is there."""

import inspect
from collections.abc import Callable, Iterator, Sequence
from typing import TYPE_CHECKING, Any, Literal, Protocol, TypeVar

import bpy

if TYPE_CHECKING:
    # What is mixed into an operator or a panel has all that these have; Blender would take a class of theirs for one to register.
    from bpy.stub_internal.rna_enums import IconItems

    OperatorPart = bpy.types.Operator
    PanelPart = bpy.types.Panel
    #: The name of an icon.
    Icon = IconItems
else:
    OperatorPart = PanelPart = object
    Icon = str

#: What an operator answers when it is called.
Ended = set[Literal["RUNNING_MODAL", "CANCELLED", "FINISHED", "PASS_THROUGH", "INTERFACE"]]

Row = TypeVar("Row", covariant=True)
Thing = TypeVar("Thing")
Handler = TypeVar("Handler", bound=Callable[..., None])
_OWN_OPERATORS = "dance_review"


class Rows(Protocol[Row]):
    """A collection of property groups."""

    def __len__(self) -> int: ...
    def __iter__(self) -> Iterator[Row]: ...
    def __getitem__(self, key: int | str, /) -> Row: ...
    def get(self, key: str, /) -> Row | None: ...
    def find(self, key: str, /) -> int: ...
    def add(self) -> Row: ...
    def remove(self, index: int, /) -> None: ...
    def move(self, source: int, target: int, /) -> None: ...
    def clear(self) -> None: ...


def declared(make: Callable[..., object], **words: Any) -> object:
    """What a property of Blender is declared by: a value that Blender's types do not speak of."""
    return make(**words)


def _declaration(hint: Any) -> object:
    return hint.__metadata__[0] if hasattr(hint, "__metadata__") else hint


def _show_properties(item: type) -> None:
    """Leave of ``name: Annotated[type, declaration]`` the declaration, which is all that Blender reads."""
    for part in item.__mro__:
        # Asked for, not looked up: from Python 3.14 on a class makes its annotations only when they are asked for.
        hints = inspect.get_annotations(part, eval_str=True)
        if hints:
            part.__annotations__ = {name: _declaration(hint) for name, hint in hints.items()}


def register_classes(classes: Sequence[type]) -> None:
    """Register classes whose properties are declared as ``name: Annotated[type, StringProperty(…)]``."""
    for item in classes:
        _show_properties(item)
        bpy.utils.register_class(item)


def unregister_classes(classes: Sequence[type]) -> None:
    """Take them away again, the last one first."""
    for item in reversed(classes):
        bpy.utils.unregister_class(item)


def there(thing: Thing | None) -> Thing:
    """Something that Blender's types say may be missing, and that is not: a scene that is looked at, a layout that is drawn."""
    assert thing is not None
    return thing


def of_kind(thing: object, kind: type[Thing]) -> Thing:
    """Something whose kind Blender's types leave open, as the kind that it is."""
    assert isinstance(thing, kind)
    return thing


def optics(camera: bpy.types.Object) -> bpy.types.Camera:
    """Lens and shift of an object that is a camera."""
    return of_kind(camera.data, bpy.types.Camera)


def mesh_of(item: bpy.types.Object) -> bpy.types.Mesh:
    """The mesh of an object that has one."""
    return of_kind(item.data, bpy.types.Mesh)


def add_nodes(item: bpy.types.Object, name: str, tree: bpy.types.NodeTree) -> None:
    """Let nodes change what is seen of an object."""
    of_kind(item.modifiers.new(name, "NODES"), bpy.types.NodesModifier).node_group = tree


def can_run(operator: Any) -> bool:
    """Whether an operator of Blender's can be called now; its types take such operators for classes."""
    return bool(operator.poll())


def own_operators() -> Any:
    """The operators of this add-on, which Blender's types cannot know."""
    return getattr(bpy.ops, _OWN_OPERATORS)


def persistent(handler: Handler) -> Handler:
    """A handler that stays when another file is loaded, as a decorator: Blender's own has no types."""
    kept: Handler = bpy.app.handlers.persistent(handler)
    return kept
