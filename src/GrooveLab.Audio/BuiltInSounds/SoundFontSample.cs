namespace GrooveLab.Audio.BuiltInSounds;

/// <summary>One mono sample of 16 bits, with the header it gets in the <c>shdr</c> chunk.</summary>
/// <remarks>Not a recording: nothing is copied, whoever makes it leaves the frames alone afterwards.</remarks>
/// <param name="Name">At most 20 ASCII characters.</param>
/// <param name="Frames">The sample's frames; the writer adds the zero frames that the specification wants behind them.</param>
/// <param name="SampleRate">Frames a second, 400-50000 (section 7.10).</param>
/// <param name="RootKey">MIDI key at which it sounds untransposed.</param>
/// <param name="PitchCorrection">Cents that playback adds.</param>
/// <param name="LoopStart">First frame of the loop, counted from the sample's start.</param>
/// <param name="LoopEnd">First frame after the loop; equal to <paramref name="LoopStart"/> when there is none.</param>
public sealed record SoundFontSample(
    string Name, short[] Frames, int SampleRate, int RootKey, int PitchCorrection = 0, int LoopStart = 0, int LoopEnd = 0);
