"""What is heard: pitches against the gears and against the samples themselves."""

import io
import wave

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from course_lib.plots import sound
from course_lib.plots.trains import driving_gears
from course_lib.vehicle.gear_tables import gear_tables
from course_lib.vehicle.unit_spec import load_unit

SPEED = 2 * np.pi * 30.0  # rad/s of the input, 1,800 rpm


def samples(wav):
    """(samples from -1 to 1, samples a second) of a WAV file."""
    with wave.open(io.BytesIO(wav)) as file:
        assert (file.getnchannels(), file.getsampwidth()) == (1, 2)
        return np.frombuffer(file.readframes(file.getnframes()), "<i2") / 32767.0, file.getframerate()


def loudest(wav):
    """Pitch [Hz] of the strongest tone, by Fourier transform."""
    heard, rate = samples(wav)
    return np.fft.rfftfreq(len(heard), 1 / rate)[np.abs(np.fft.rfft(heard)).argmax()]


# Source: with the ring held the mesh of a simple set is ring teeth times turns of the carrier (McFadden and Smith 1985, from
# memory); with the carrier held it is sun teeth times turns of the sun, as of any two gears.
@pytest.mark.parametrize("sun, ring, turns", [(36, 80, 10.0), (36, 84, 25.0), (20, 80, 5.0)])
def test_mesh_with_one_member_held(sun, ring, turns):
    """Ring held: ring teeth times turns of the carrier, the sun's speed by Willis. Carrier held: sun teeth times turns."""
    carrier = 2 * np.pi * turns
    sun_speed = carrier * (1 + ring / sun)
    assert sound.mesh_frequency(sun_speed, carrier, sun) == pytest.approx(ring * turns)
    assert sound.mesh_frequency(2 * np.pi * turns, 0.0, sun) == pytest.approx(sun * turns)


def test_mesh_takes_arrays_and_refuses_no_teeth():
    """Arrays as scalars; a gear without teeth is refused."""
    speeds = np.array([10.0, 50.0])
    assert sound.mesh_frequency(speeds, 1.0, 36) == pytest.approx(
        [float(sound.mesh_frequency(s, 1.0, 36)) for s in speeds]
    )
    with pytest.raises(ValueError, match="sun_teeth must be greater than 0"):
        sound.mesh_frequency(1.0, 0.0, 0)


@pytest.mark.parametrize("unit", ["T3", "T4"])
def test_direct_drive_is_silent(unit):
    """Where input and output turn as one, no member turns against another: no gear whine, and the words say why."""
    spec = load_unit(unit)
    for gear in driving_gears(spec):
        heard = sound.whine(unit, gear, SPEED)
        direct = abs(gear_tables(spec).ratio[spec.gear_index(gear)] - 1.0) < 1e-9
        assert direct == (not any(tone.hertz for tone in heard.tones)) == ("no gear whine" in heard.words)
        assert direct == (not samples(heard.wav)[0].any())


def test_second_by_hand():
    """Unit T3 in second: sun held, front carrier at 1/1.45 of the input: 36 x 30 / 1.45 Hz; rear carrier at 1/1.45 squared."""
    first, second = sound.gear_tones("T3", "second", SPEED)
    assert first.hertz == pytest.approx(36 * 30 / 1.45)
    assert second.hertz == pytest.approx(36 * 30 / 1.45**2)


@pytest.mark.parametrize("unit, gear", [("T3", "first"), ("T3", "reverse"), ("T4", "fourth")])
def test_loudest_tone_in_the_file_is_one_of_the_words(unit, gear):
    """The strongest tone found in the samples is a pitch that is said."""
    heard = sound.whine(unit, gear, SPEED)
    pitch = loudest(heard.wav)
    assert min(abs(pitch - tone.hertz) for tone in heard.tones) < 1.0
    assert any(f"at {tone.hertz:.0f} Hz" in heard.words for tone in heard.tones)


def test_pump_follows_the_engine_alone():
    """Teeth times turns, twice as high at twice the speed, in the file as in the words."""
    slow, fast = sound.pump_whine(SPEED), sound.pump_whine(2 * SPEED)
    assert slow.tones[0].hertz == pytest.approx(sound.PUMP_TEETH * 30)
    assert fast.tones[0].hertz == pytest.approx(2 * slow.tones[0].hertz)
    assert loudest(slow.wav) == pytest.approx(slow.tones[0].hertz, abs=1.0) and "in every range" in slow.words


@settings(max_examples=25, deadline=None)
@given(pitch=st.floats(50, 20000), loud=st.floats(0, 1))
def test_no_clicks_and_no_overload(pitch, loud):
    """Never past full scale, silent at both ends, and nothing folded back from above half the sampling rate (Nyquist)."""
    heard, rate = samples(sound.to_wav({pitch: 1.0}, loud=loud, seconds=0.3))
    assert np.abs(heard).max() <= sound.LOUDEST + 1e-3 and abs(heard[0]) < 1e-3 and abs(heard[-1]) < 1e-3
    assert pitch < rate / 2 or not heard.any()


def test_refusals():
    """Neutral drives nothing; loudness is a share."""
    with pytest.raises(ValueError, match="gear must drive"):
        sound.whine("T3", "neutral", SPEED)
    with pytest.raises(ValueError, match="loud must be between 0 and 1"):
        sound.pump_whine(SPEED, loud=2.0)
