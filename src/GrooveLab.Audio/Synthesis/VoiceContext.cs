namespace GrooveLab.Audio.Synthesis;

/// <summary>What all voices of a synthesizer share.</summary>
internal sealed record VoiceContext(int SampleRate, float Gain, float InitialAttenuationScale, WeightTable? Weights)
{
    /// <summary>What its filters are made of.</summary>
    public CutoffTable Cutoffs { get; } = new(SampleRate);

    /// <summary>Length of the slide by which gains and cutoff follow a controller: 4 ms, short enough to feel at once, long enough not to
    /// click.</summary>
    public int GlideFrames { get; } = Milliseconds(SampleRate, 4);

    /// <summary>Length of the fade of a voice that gives way to another, or whose sample ends abruptly.</summary>
    public int FadeFrames { get; } = Milliseconds(SampleRate, 5);

    /// <summary>Length of the fade of a voice that another of its exclusive class ends, as a hand closes a hi-hat.</summary>
    public int ChokeFrames { get; } = Milliseconds(SampleRate, 10);

    /// <summary>How much of its attack a note gets whose key goes up on the frame on which it went down: 10 ms.</summary>
    public int LeastNoteFrames { get; } = Milliseconds(SampleRate, 10);

    private static int Milliseconds(int sampleRate, int milliseconds) => Math.Max(1, sampleRate * milliseconds / 1000);
}
