namespace GrooveLab.Audio.BuiltInSounds;

/// <summary>One mono sample of 16 bits, with its header in the <c>shdr</c> chunk.</summary>
/// <remarks>The frames are not copied; do not change them afterwards.</remarks>
/// <param name="Name">At most 20 ASCII characters.</param>
/// <param name="Frames">The sample's frames; the writer adds the zero frames that the specification requires after them.</param>
/// <param name="SampleRate">Sample rate in Hz, 400-50000 (section 7.10).</param>
/// <param name="RootKey">MIDI key at which it sounds untransposed.</param>
/// <param name="PitchCorrection">Cents that playback adds.</param>
/// <param name="LoopStart">First frame of the loop, counted from the sample's start.</param>
/// <param name="LoopEnd">First frame after the loop; equal to <paramref name="LoopStart"/> without a loop.</param>
public sealed record SoundFontSample(
    string Name, short[] Frames, int SampleRate, int RootKey, int PitchCorrection = 0, int LoopStart = 0, int LoopEnd = 0);
