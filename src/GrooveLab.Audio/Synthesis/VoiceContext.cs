namespace GrooveLab.Audio.Synthesis;

/// <summary>The settings and tables that all voices of a synthesizer share.</summary>
internal sealed record VoiceContext(int SampleRate, float Gain, WeightTable? Weights)
{
    /// <summary>The table of filter coefficients.</summary>
    public CutoffTable Cutoffs { get; } = new(SampleRate);

    /// <summary>Length of the ramp by which gains and cutoff follow a controller: 4 ms, short enough to feel immediate, long enough not to
    /// click.</summary>
    public int GlideFrames { get; } = Milliseconds(SampleRate, 4);

    /// <summary>Length of the fade of a stolen voice, or of one whose sample ends abruptly.</summary>
    public int FadeFrames { get; } = Milliseconds(SampleRate, 5);

    /// <summary>Length of the fade of a stolen voice that can be heard in the mix: 40 ms.</summary>
    public int SlowFadeFrames { get; } = Milliseconds(SampleRate, 40);

    /// <summary>How long a note counts as beginning: 50 ms.</summary>
    public int AttackFrames { get; } = Milliseconds(SampleRate, 50);

    /// <summary>Length of the fade of a voice that another of its exclusive class ends, like an open hi-hat that is closed.</summary>
    public int ChokeFrames { get; } = Milliseconds(SampleRate, 10);

    /// <summary>The part of its attack that a note plays if its key is released on the frame on which it was pressed: 10 ms.</summary>
    public int LeastNoteFrames { get; } = Milliseconds(SampleRate, 10);

    private static int Milliseconds(int sampleRate, int milliseconds) => Math.Max(1, sampleRate * milliseconds / 1000);
}
