namespace GrooveLab.Audio.Synthesis;

/// <summary>
/// Turns notes and controls into stereo sound from a SoundFont bank.
/// </summary>
/// <remarks>
/// Not a sequencer: it has no clock and no queue. A call takes effect on the next frame that <see cref="Render"/> makes, so to start
/// a note on frame <c>n</c>, render up to <c>n</c> and then call. One thread owns an instance. After warm-up no member allocates, locks,
/// logs or throws (a channel, key or value out of range is clamped, or ignored and counted). Units are those of MIDI 1.0 (keys,
/// velocities, controllers) and SoundFont 2.04 (their effect on the sound).
/// </remarks>
public interface ISoundFontSynth
{
    /// <summary>Sample rate in Hz.</summary>
    int SampleRate { get; }

    /// <summary>Number of channels; channel 9 starts as percussion, as in General MIDI.</summary>
    int ChannelCount { get; }

    /// <summary>Voices sounding now, including those in release.</summary>
    int ActiveVoices { get; }

    /// <summary>Starts a key. Velocity 1-127; velocity 0 is a note-off.</summary>
    void NoteOn(int channel, int key, int velocity);

    /// <summary>Releases a key: its voices enter their release stage, or hold while the sustain pedal is down.</summary>
    void NoteOff(int channel, int key);

    /// <summary>Sets a MIDI controller, 0-127, including bank select, RPN, sustain and the channel-mode messages.</summary>
    void Control(int channel, int controller, int value);

    /// <summary>Selects the preset for notes that start from now on; sounding notes keep theirs.</summary>
    void Program(int channel, int program);

    /// <summary>Sets the pitch wheel, 0-16383; 8192 is the middle.</summary>
    void PitchWheel(int channel, int value);

    /// <summary>Sets the channel pressure, 0-127.</summary>
    void ChannelPressure(int channel, int value);

    /// <summary>Sets the pressure on one key, 0-127; it affects only sounds with a modulator that uses it.</summary>
    void KeyPressure(int channel, int key, int value);

    /// <summary>Writes (does not add) the next frames; both spans have the same length, of any size.</summary>
    void Render(Span<float> left, Span<float> right);
}
