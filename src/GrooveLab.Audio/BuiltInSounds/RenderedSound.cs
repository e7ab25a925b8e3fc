namespace GrooveLab.Audio.BuiltInSounds;

/// <summary>A sample before its level is set and it is rounded to 16 bits.</summary>
/// <param name="Frames">The frames from the onset on.</param>
/// <param name="SampleRate">Sample rate in Hz, a whole number because the format needs one.</param>
/// <param name="LoopStart">First frame of the loop.</param>
/// <param name="LoopEnd">First frame after the loop; equal to <paramref name="LoopStart"/> without a loop.</param>
/// <param name="Decay">60 dB decay time in seconds that the envelope must add, because it was removed from the frames; 0 for none.</param>
/// <param name="Period">Frames in a period; 0 for an unpitched sound.</param>
internal sealed record RenderedSound(double[] Frames, int SampleRate, int LoopStart, int LoopEnd, double Decay, double Period = 0)
{
    /// <summary>Frames after the loop that repeat its start, for interpolators that read ahead (the specification requires 8).</summary>
    public const int Guard = 16;

    /// <summary>The note with its loop and its decay envelope applied.</summary>
    /// <param name="seconds">Length in seconds.</param>
    public double[] Play(double seconds)
    {
        var note = new double[(int)(seconds * SampleRate)];
        var fall = Decay > 0 ? Math.Exp(-StringLosses.DecayRate(Decay) / SampleRate) : 1;
        double level = 1;
        var loop = LoopEnd - LoopStart;
        for (var i = 0; i < note.Length; i++)
        {
            var at = i < LoopEnd || loop == 0 ? i : LoopStart + ((i - LoopStart) % loop);
            note[i] = at < Frames.Length ? level * Frames[at] : 0;
            level *= fall;
        }

        return note;
    }
}
