namespace GrooveLab.Audio.Synthesis;

/// <summary>
/// Turns notes and controls into stereo sound from a SoundFont bank.
/// </summary>
/// <remarks>
/// Not a sequencer: it has no clock and no queue. A call takes effect on the next frame that <see cref="Render"/> makes,
/// so a caller who wants a note on frame <c>n</c> renders up to <c>n</c> and then calls. One thread owns an instance; once
/// warm, no member allocates, locks, logs or throws (a channel, key or value out of range is clamped or ignored and counted).
/// Units are those of MIDI 1.0 (keys, velocities, controllers) and SoundFont 2.04 (what they do to the sound).
/// </remarks>
public interface ISoundFontSynth
{
    /// <summary>Frames a second, in Hz.</summary>
    int SampleRate { get; }

    /// <summary>How many channels there are; channel 9 is percussion at the start, as in General MIDI.</summary>
    int ChannelCount { get; }

    /// <summary>Voices sounding now, those in release included.</summary>
    int ActiveVoices { get; }

    /// <summary>Starts a key. Velocity 1-127; velocity 0 is a note-off.</summary>
    void NoteOn(int channel, int key, int velocity);

    /// <summary>Releases a key: its voices go to their release stage (held while the sustain pedal is down).</summary>
    void NoteOff(int channel, int key);

    /// <summary>Sets a MIDI controller, 0-127; bank select, RPN, sustain and the channel-mode messages included.</summary>
    void Control(int channel, int controller, int value);

    /// <summary>Selects the preset for notes that start from now on; notes that sound keep theirs.</summary>
    void Program(int channel, int program);

    /// <summary>Pitch wheel, 0-16383, 8192 is the middle.</summary>
    void PitchWheel(int channel, int value);

    /// <summary>Channel pressure, 0-127.</summary>
    void ChannelPressure(int channel, int value);

    /// <summary>Sets the pressure on one key, 0-127; only sounds whose modulators listen to it follow.</summary>
    void KeyPressure(int channel, int key, int value);

    /// <summary>Writes (does not add) the next frames; both spans have the same length, of any size.</summary>
    void Render(Span<float> left, Span<float> right);
}
