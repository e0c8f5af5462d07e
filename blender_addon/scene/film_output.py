"""From the scene of a film to its file: the pictures one by one, so that a film that was stopped goes on, then film and music."""

from __future__ import annotations

import contextlib
import shutil
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import bpy
from bpy.types import Scene

from .. import compat
from ..analysis_core.errors import OptionError, OutputError, TakeError
from ..analysis_core.film.pictures import clear, folder_for, key_of, picture, take_up, whole_ones
from ..analysis_core.film.plan import FilmPlan
from ..analysis_core.film.soundtrack import pieces_of, soundtrack, write_sound
from ..analysis_core.film.wish import Wish
from ..analysis_core.review import Review
from ..analysis_core.wording import names
from ..analysis_core.write.cut_short import require_whole
from ..analysis_core.write.files import whole_file
from .film_beside import Reference, lay_over, reference_of
from .stage import plain_colours
from .turntable import Film, build_film

#: How hard pictures are packed on the way, 0 to 100: they are unpacked soon.
_PACKED = 10
#: Collections of the file into which a film puts nothing.
_NOT_MADE = {"libraries", "window_managers", "workspaces", "screens"}


def _everything() -> dict[str, set[Any]]:
    """All data of the file, by the name of their collection."""
    groups = {item.identifier for item in bpy.data.bl_rna.properties if item.type == "COLLECTION"} - _NOT_MADE
    return {name: set(getattr(bpy.data, name)) for name in groups}


@contextmanager
def nothing_left_behind() -> Iterator[None]:
    """The file's scenes, data and chosen scene are afterwards what they were before."""
    window = bpy.context.window
    scene = window.scene if window is not None else None
    before = _everything()
    try:
        yield
    finally:
        if window is not None and scene is not None:
            window.scene = scene
        made = [item for name, items in _everything().items() for item in items - before[name]]
        bpy.data.batch_remove(made)


def _render_pictures(scene: Scene, folder: Path, there: int, pictures: int, progress: Callable[[float], None] | None) -> None:
    """Render what is not there yet; a picture that is cut short, on a full disk, ends it."""
    render = scene.render
    compat.write_pictures(scene)
    compat.unstamped(scene)
    render.image_settings.compression = _PACKED
    render.filepath = str(folder / "picture_####")
    render.use_overwrite, render.use_placeholder = False, False
    done = there

    def count(*_: Any) -> None:
        nonlocal done
        done += 1
        if progress is not None:
            progress(min(done / pictures, 1.0))

    bpy.app.handlers.render_write.append(count)
    try:
        bpy.ops.render.render(animation=True, scene=scene.name)
    finally:
        bpy.app.handlers.render_write.remove(count)
    for number in range(1, pictures + 1):
        require_whole(picture(folder, number))


def _music(plan: FilmPlan, wish: Wish, to: Path) -> Path | None:
    """The film's music as a sound file of its own, cut by Blender's audio library; None without any. Raises OptionError."""
    if not wish.music:
        return None
    import aud

    unplayable: Any = aud.error  # its types do not say that it is an exception
    try:
        file = aud.Sound.file(wish.music)
        rate_hz = int(file.specs[0])
        made = soundtrack(
            pieces_of(plan.sounds, wish.fps, wish.music_offset),
            lambda start, end: file.limit(start, end).data(),
            rate_hz,
            len(plan.turned_rad) / wish.fps,
        )
    except unplayable as error:
        raise OptionError(f"{wish.music} cannot be played ({error}). Choose another sound file.") from error
    if made is None:
        return None
    write_sound(made, rate_hz, to)
    return to


def _reference(wish: Wish, said: list[str]) -> Reference | None:
    """The film beside the dancer; what nobody named for this film and cannot be shown is only said. Raises InTheRoundError."""
    try:
        return reference_of(wish.reference, wish.reference_offset) if wish.reference else None
    except TakeError as error:
        if "reference" not in wish.remembered:
            raise
        said.append(str(error))
        return None


def _heard(plan: FilmPlan, wish: Wish, to: Path, said: list[str]) -> Path | None:
    """The music, likewise."""
    try:
        return _music(plan, wish, to)
    except OptionError as error:
        if "music" not in wish.remembered:
            raise
        said.append(str(error))
        return None


def _sequence(folder: Path, film: Film, music: Path | None, reference: Reference | None, wish: Wish) -> Any:
    """Pictures, music and the film beside the dancer in Blender's own sequencer."""
    pictures = film.pictures
    scene = bpy.data.scenes.new("Film of pictures")
    editor = scene.sequence_editor_create()
    strip = compat.strips_of(editor).new_image("Pictures", str(picture(folder, 1)), 1, 1)
    for number in range(2, pictures + 1):
        strip.elements.append(picture(folder, number).name)
    strip.frame_final_duration = pictures
    scene.frame_start, scene.frame_end = 1, pictures
    render = scene.render
    render.fps, render.fps_base = wish.fps, 1.0
    render.resolution_x, render.resolution_y = wish.size
    render.resolution_percentage = 100
    render.use_sequencer, render.use_compositing = True, False
    plain_colours(scene)
    if music is not None:
        compat.strips_of(editor).new_sound("Music", str(music), 2, 1)
    if reference is not None and film.beside is not None:
        lay_over(scene, reference, film.plan, film.beside, 3)
    compat.unstamped(scene)
    return scene


def _encode(scene: Scene, to: Path, *, sound: bool) -> None:
    """A sequence to a film."""
    compat.write_film(scene, sound=sound)
    scene.render.filepath = str(to)
    bpy.ops.render.render(animation=True, scene=scene.name)


def _keep(scene: Scene, pictures: int, place: Path, folder: Path) -> None:
    """The pictures that are kept are those of the film, with what is laid over them."""
    compat.write_pictures(scene)
    scene.render.filepath = str(place / "picture_####")
    bpy.ops.render.render(animation=True, scene=scene.name)
    for number in range(1, pictures + 1):
        require_whole(picture(place, number))
        with whole_file(picture(folder, number), overwrite=True) as temporary:
            shutil.copyfile(picture(place, number), temporary)


def render(reviews: list[Review], path: Path, wish: Wish, *, progress: Callable[[float], None] | None = None) -> dict[str, Any]:
    """Render the film of one or two reviews to ``path`` (MP4 with H.264), whole or not at all.

    Pictures that are there from an attempt that was stopped are not rendered again. progress: called with the share of pictures
    that are done. Returns seconds, pictures, resumed (pictures from before), engine, music, reference (whether it has them),
    without (sentences on what was remembered and cannot be played), and left_out, the corrections for which the film is too
    short. The file's own scenes stay as they are. Raises InTheRoundError.
    """
    wish.require_room(len(reviews))
    said: list[str] = []
    with nothing_left_behind(), tempfile.TemporaryDirectory(prefix="dance_film_") as place:
        reference = _reference(wish, said)
        film = build_film(reviews, wish, reference.aspect if reference is not None else None)
        music = _heard(film.plan, wish, Path(place) / "music.wav", said)
        engine = compat.choose_engine(film.scene)
        folder = folder_for(path, wish)
        there = take_up(folder, key_of(reviews, film.plan, wish), film.pictures)
        try:
            if bpy.context.window is not None:
                # What is not in a window is not evaluated anew.
                bpy.context.window.scene = film.scene
            _render_pictures(film.scene, folder, there, film.pictures, progress)
            unfinished = Path(place) / "film.mp4"
            sequence = _sequence(folder, film, music, reference, wish)
            _encode(sequence, unfinished, sound=music is not None)
            require_whole(unfinished)
            if wish.pictures and reference is not None:
                _keep(sequence, film.pictures, Path(place), folder)
            with whole_file(path, overwrite=True) as temporary:
                shutil.copyfile(unfinished, temporary)
        except BaseException:
            with contextlib.suppress(OSError, OutputError):
                if not whole_ones(folder):
                    clear(folder)
            raise
        if not wish.pictures:
            clear(folder)
    return {
        "seconds": film.pictures / wish.fps,
        "pictures": film.pictures,
        "resumed": there,
        "engine": engine,
        "music": music is not None,
        "reference": reference is not None,
        "without": said,
        "left_out": [names.fault_title(finding.fault) for finding in film.plan.left_out],
    }
