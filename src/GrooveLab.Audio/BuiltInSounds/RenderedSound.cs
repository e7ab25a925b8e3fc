namespace GrooveLab.Audio.BuiltInSounds;

/// <summary>A sample before it is levelled and cut to 16 bits.</summary>
/// <param name="Frames">From the onset on.</param>
/// <param name="SampleRate">Frames a second, a whole number so that the format can hold it.</param>
/// <param name="LoopStart">First frame of the loop.</param>
/// <param name="LoopEnd">First frame after it; equal to the start when there is none.</param>
/// <param name="Decay">Seconds in which the envelope has to take 60 dB off, because they were taken out of the frames; 0 for none.</param>
/// <param name="Period">Frames a period, where there is one.</param>
internal sealed record RenderedSound(double[] Frames, int SampleRate, int LoopStart, int LoopEnd, double Decay, double Period = 0)
{
    /// <summary>Frames behind the loop that repeat its start, for interpolators that look ahead (the specification wants 8).</summary>
    public const int Guard = 16;

    /// <summary>The note as an envelope of its own decay would play it, looped.</summary>
    /// <param name="seconds">How long.</param>
    public double[] Play(double seconds)
    {
        double[] note = new double[(int)(seconds * SampleRate)];
        double fall = Decay > 0 ? Math.Exp(-StringLoop.DecayRate(Decay) / SampleRate) : 1;
        double level = 1;
        int loop = LoopEnd - LoopStart;
        for (int i = 0; i < note.Length; i++)
        {
            int at = i < LoopEnd || loop == 0 ? i : LoopStart + ((i - LoopStart) % loop);
            note[i] = at < Frames.Length ? level * Frames[at] : 0;
            level *= fall;
        }

        return note;
    }
}
