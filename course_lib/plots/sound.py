"""What a gear train and its pump sound like: the pitches of their teeth, range by range, as a short sound with words beside it.

Optional for the learner: whatever can be heard is also said. No vehicle and no cause is known here.
"""

from __future__ import annotations

import io
import wave
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from course_lib.base.arrays import Values
from course_lib.base.guards import between, one_of, positive
from course_lib.physics.gearset import PlanetarySet, solve_train
from course_lib.vehicle.gear_tables import gear_tables
from course_lib.vehicle.unit_spec import UnitSpec, load_unit

RATE = 22050  # samples a second
SECONDS, FADE = 1.2, 0.05  # s, of a sound and of its ends
OVERTONES = (1.0, 0.45, 0.2)  # strength of the mesh tone and of the next two
LOUDEST = 0.7  # share of full scale
PUMP_TEETH = 9  # of the inner pump gear of every unit of the course: invented
HEARD = 1.0  # Hz; below, nothing is heard as a tone
ALIVE = 1e-9  # turns between sun and carrier below which a set turns as one piece


def mesh_frequency(sun_speed: Values, carrier_speed: Values, sun_teeth: Values) -> Values:
    """Pitch of the teeth of a simple planetary set, whatever member is held.

        f = S |ws - wc| / (2 pi)

    Parameters                                                         symbol  unit
        sun_speed       float or array   of the sun                      ws     [rad/s]
        carrier_speed   float or array   of the carrier                  wc     [rad/s]
        sun_teeth       int or array     of the sun                      S      [-]
    Returns
        float or array, broadcast of the inputs                          f      [Hz]
    Valid for
        simple sets; sun and ring mesh at the same pitch, because the same planets carry both.
    Source
        McFadden and Smith, An Explanation for the Asymmetry of the Modulation Sidebands about the Tooth Meshing Frequency in
        Epicyclic Gear Vibration, Proc. IMechE 199 (1985), with the ring held: f = ring teeth times turns of the carrier (from
        memory); the same as above by Willis.
    In the workshop
        with sun and carrier at one speed the set turns as one piece: no tooth passes another, and the whine is gone.
    Example
        >>> round(mesh_frequency(2 * np.pi * 10.0, 0.0, 36), 6)
        360.0
    """
    positive("sun_teeth", sun_teeth, "Count them.")
    pitch: Values = np.asarray(sun_teeth) * np.abs(np.asarray(sun_speed) - carrier_speed) / (2.0 * np.pi)
    return pitch


def pump_frequency(engine_speed: Values, teeth: int = PUMP_TEETH) -> Values:
    """Pitch of the pump: as many pulses a turn as its inner gear has teeth.

        f = z w / (2 pi)

    Parameters                                                         symbol  unit
        engine_speed    float or array   of the converter hub            w      [rad/s]
        teeth           int              of the inner gear               z      [-]
    Returns
        float or array                                                   f      [Hz]
    Valid for
        gear pumps driven by the converter hub.
    Source
        common practice: pulsation of a gear pump is teeth times turns.
    In the workshop
        follows the engine in every range, in P too; gear whine follows the road and is gone in direct drive.
    Example
        >>> round(pump_frequency(2 * np.pi * 10.0, 9), 6)
        90.0
    """
    pitch: Values = teeth * np.abs(np.asarray(engine_speed)) / (2.0 * np.pi)
    return pitch


@dataclass(frozen=True, slots=True)
class Tone:
    """One pitch [Hz] and where it comes from."""

    source: str
    hertz: float


@dataclass(frozen=True, slots=True)
class Sound:
    """A short sound and the same in words. wav: a WAV file, mono, 16 bit; tones: what is in it."""

    words: str
    wav: bytes
    tones: tuple[Tone, ...]


def gear_tones(unit: str, gear: str, input_speed: float) -> tuple[Tone, ...]:
    """Pitch of every planetary set of a unit in a gear, with its input at `input_speed` [rad/s]; a silent set has 0 Hz.

    Raises ValueError for an unknown unit or gear, and for a gear that does not drive.
    """
    spec = load_unit(unit)
    one_of(f"gear of unit {unit}", gear, spec.gears)
    speeds = _member_speeds(spec, gear)
    found = []
    for i, each in enumerate(spec.planetary_sets):
        apart = speeds[each.sun] - speeds[each.carrier]
        hertz = float(mesh_frequency(apart * input_speed, 0.0, each.sun_teeth)) if abs(apart) > ALIVE else 0.0
        found.append(Tone(f"planetary set {i + 1}", hertz))
    return tuple(found)


def whine(unit: str, gear: str, input_speed: float, *, loud: float = 1.0) -> Sound:
    """The whine of the planetary sets in a gear. loud: 0 silent to 1 as loud as a worn set. See `gear_tones` for errors."""
    tones = gear_tones(unit, gear, input_speed)
    heard = [tone for tone in tones if tone.hertz > HEARD]
    named = ", ".join(f"{tone.source} at {tone.hertz:.0f} Hz" for tone in heard)
    still = ", ".join(tone.source for tone in tones if tone.hertz <= HEARD)
    words = f"{_plain(gear)}: {'whine from ' + named if heard else 'no gear whine'}"
    words += f"; nothing from {still}, where no tooth passes another." if still else "."
    return Sound(words=words, wav=to_wav({tone.hertz: 1.0 for tone in heard}, loud=loud), tones=tones)


def pump_whine(engine_speed: float, *, loud: float = 1.0) -> Sound:
    """The moan of the pump at an engine speed [rad/s], the same in every range. loud: 0 silent to 1."""
    tone = Tone("pump", float(pump_frequency(engine_speed)))
    words = f"Pump: a moan at {tone.hertz:.0f} Hz that follows the engine, the same in every range and in P."
    return Sound(words=words, wav=to_wav({tone.hertz: 1.0}, loud=loud), tones=(tone,))


def _plain(gear: str) -> str:
    text = gear.replace("_", " ")
    return text[:1].upper() + text[1:]


def _member_speeds(spec: UnitSpec, gear: str) -> dict[str, float]:
    """Speed of every member for a turn of the input, from the gears' own balance."""
    if not gear_tables(spec).ratio[spec.gear_index(gear)]:
        raise ValueError(f"gear must drive, got {gear} of the {spec.title}. Choose one with a ratio.")
    sets = [PlanetarySet(s.sun, s.ring, s.carrier, s.sun_teeth / s.ring_teeth) for s in spec.planetary_sets]
    couplings = list(
        dict.fromkeys(element.couples for element in spec.elements if element.id in spec.gears[gear])
    )
    return solve_train(spec.members, sets, couplings, spec.input, spec.output).speeds


def to_wav(pitches: Mapping[float, float], *, loud: float = 1.0, seconds: float = SECONDS) -> bytes:
    """A WAV file (mono, 16 bit) of tones: pitch [Hz] -> strength; each with its overtones, none above half the sampling rate.

    No pitch at all gives silence of the same length. Raises ValueError unless loud is between 0 and 1.
    """
    between("loud", loud, 0.0, 1.0, "1 is as loud as a worn set.")
    time = np.arange(int(RATE * seconds)) / RATE
    signal = np.zeros_like(time)
    for pitch, strength in pitches.items():
        for k, share in enumerate(OVERTONES, 1):
            if k * pitch < RATE / 2:
                signal += strength * share * np.sin(2.0 * np.pi * k * pitch * time)
    most = np.abs(signal).max()
    signal *= loud * LOUDEST / most if most > 0 else 0.0
    ends = np.clip(np.minimum(time, time[-1] - time) / FADE, 0.0, 1.0)
    samples = np.round(signal * ends * 32767.0).astype("<i2")
    file = io.BytesIO()
    with wave.open(file, "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(RATE)
        out.writeframes(samples.tobytes())
    return file.getvalue()
