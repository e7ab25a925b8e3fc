using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.Midi;

/// <summary>The unit of a tick: a fraction of a quarter note, whose length depends on the tempo, or a fraction of a second in film
/// frames, independent of the tempo. Standard MIDI Files 1.0, header chunk.</summary>
public readonly record struct MidiDivision
{
    /// <summary>Maximum number of ticks per quarter in the header.</summary>
    public const int MostTicksPerQuarter = 0x7FFF;

    private static readonly int[] Rates = [24, 25, 29, 30];

    private MidiDivision(int ticks, int framesPerSecond) => (Ticks, FramesPerSecond) = (ticks, framesPerSecond);

    /// <summary>Ticks per quarter note, 1-32767; or per film frame, 1-255, when <see cref="IsSmpte"/>.</summary>
    public int Ticks { get; }

    /// <summary>24, 25, 29 (which means 30000/1001, "drop frame") or 30 film frames per second; 0 when ticks divide a quarter.</summary>
    public int FramesPerSecond { get; }

    /// <summary>True when ticks divide a second and not a quarter.</summary>
    public bool IsSmpte => FramesPerSecond != 0;

    /// <summary>The exact number of ticks per second; only when <see cref="IsSmpte"/>.</summary>
    public Rational TicksPerSecond => FramesPerSecond == 29 ? new Rational(30_000L * Ticks, 1001) : (long)FramesPerSecond * Ticks;

    /// <summary>Creates a division of a quarter note.</summary>
    /// <exception cref="ArgumentOutOfRangeException">Not 1-32767.</exception>
    public static MidiDivision PerQuarter(int ticks)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(ticks, 1);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(ticks, MostTicksPerQuarter);
        return new MidiDivision(ticks, 0);
    }

    /// <summary>Creates a division of a film frame.</summary>
    /// <exception cref="ArgumentOutOfRangeException">Not 24, 25, 29 or 30 frames, or not 1-255 ticks.</exception>
    public static MidiDivision Smpte(int framesPerSecond, int ticks)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(ticks, 1);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(ticks, 255);
        return IsRate(framesPerSecond)
            ? new MidiDivision(ticks, framesPerSecond)
            : throw new ArgumentOutOfRangeException(nameof(framesPerSecond), framesPerSecond, "24, 25, 29 or 30 are accepted.");
    }

    internal static bool IsRate(int framesPerSecond) => Rates.Contains(framesPerSecond);
}
