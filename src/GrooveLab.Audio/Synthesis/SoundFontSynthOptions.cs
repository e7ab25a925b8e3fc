using GrooveLab.Audio.SoundFonts;

namespace GrooveLab.Audio.Synthesis;

/// <summary>Options of a <see cref="SoundFontSynth"/>, fixed for its life.</summary>
public sealed record SoundFontSynthOptions
{
    /// <summary>Number of channels, 1-64. Default: 16.</summary>
    public int ChannelCount { get; init; } = 16;

    /// <summary>The most voices at once, 1-1024. Default: 256. One note may need several.</summary>
    public int MaxVoices { get; init; } = 256;

    /// <summary>Whether to leave out reverb and chorus, which then cost nothing. Default: false.</summary>
    public bool Dry { get; init; }

    /// <summary>
    /// Amplitude factor for the whole output, 0-16. Default: 1, where a full-scale sample at full velocity, volume and expression reaches
    /// -3 dB of full scale on each side when panned to the middle. Many voices together exceed full scale.
    /// </summary>
    public float Gain { get; init; } = 1;

    /// <summary>
    /// Amplitude factor, 0-8, for the notes of a program, by bank number (128 for percussion) and program number: balances a bank against
    /// another. Asked once for each program when it is prepared, on the thread that prepares. Null: no factor.
    /// </summary>
    public Func<int, int, float>? ProgramGain { get; init; }

    /// <summary>
    /// Whether a channel's preset is resolved at its first note instead of at the program change, so that presets without notes are never read.
    /// For offline use: the first note may read from disk and throw. Default: false.
    /// </summary>
    public bool ResolvesAtFirstNote { get; init; }

    /// <summary>
    /// The bank that plays programs for which the synthesizer's bank has no preset of their kind, pitched or percussion; null: the synthesizer's bank's first
    /// preset plays them. Default: null.
    /// </summary>
    public SoundFontBank? StandIn { get; init; }

    /// <summary>Amplitude factor, 0-8, for the notes of <see cref="StandIn"/>. Default: 1.</summary>
    public float StandInGain { get; init; } = 1;

    /// <summary>The interpolation between sample points. Default: four points.</summary>
    public Interpolation Interpolation { get; init; }

    /// <summary>
    /// How many keys away the samples are that a repeated note may borrow, 0-12, so that no two equal notes sound alike; they also differ by up to
    /// 2.5 cents and a little brightness. For banks whose neighbouring samples are the same instrument, with this distance between them. 0 plays
    /// every note as the bank says. Default: 0.
    /// </summary>
    public int BorrowedKeys { get; init; }

    /// <summary>The same for the notes of <see cref="StandIn"/>. Default: 0.</summary>
    public int StandInBorrowedKeys { get; init; }

    /// <summary>The kernel. Tests compare them.</summary>
    internal KernelWidth Kernel { get; init; }
}
