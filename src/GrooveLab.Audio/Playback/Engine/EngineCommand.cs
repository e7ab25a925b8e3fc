using GrooveLab.Music.Performance;
using GrooveLab.Music.Time;

namespace GrooveLab.Audio.Playback.Engine;

/// <summary>What a command changes.</summary>
public enum EngineCommandKind
{
    /// <summary>A part's level.</summary>
    PartLevel,

    /// <summary>A part's place between left and right.</summary>
    PartPan,

    /// <summary>Whether a part is heard.</summary>
    PartMute,

    /// <summary>The level of the whole.</summary>
    MasterLevel,

    /// <summary>How much faster than written.</summary>
    Speed,

    /// <summary>The end, with a fade.</summary>
    Stop,
}

/// <summary>
/// A change that takes effect at once, at the next whole block of the engine. Not a change of structure: bars are replaced through
/// the composer (<see cref="BarPreparer.Replace"/>) at a bar line.
/// </summary>
/// <param name="Kind">What changes.</param>
/// <param name="Part">Index of the part in the band that plays; where a part is meant.</param>
/// <param name="Value">Decibels, pan (-100 to 100), 1 or 0 for muted or not, or the seconds of a fade.</param>
/// <param name="Ratio">The speed.</param>
public readonly record struct EngineCommand(EngineCommandKind Kind, int Part, double Value, Rational Ratio)
{
    /// <summary>The command of a setting as a log keeps it.</summary>
    public static EngineCommand Of(in MixSetting setting) => new(
        setting.Kind switch
        {
            MixSettingKind.PartLevel => EngineCommandKind.PartLevel,
            MixSettingKind.PartPan => EngineCommandKind.PartPan,
            MixSettingKind.PartMute => EngineCommandKind.PartMute,
            MixSettingKind.MasterLevel => EngineCommandKind.MasterLevel,
            MixSettingKind.Speed => EngineCommandKind.Speed,
            _ => EngineCommandKind.Stop,
        },
        setting.Part,
        setting.Value,
        setting.Ratio);

    /// <summary>The setting that a log keeps of it.</summary>
    public MixSetting ToSetting() => new(
        Kind switch
        {
            EngineCommandKind.PartLevel => MixSettingKind.PartLevel,
            EngineCommandKind.PartPan => MixSettingKind.PartPan,
            EngineCommandKind.PartMute => MixSettingKind.PartMute,
            EngineCommandKind.MasterLevel => MixSettingKind.MasterLevel,
            EngineCommandKind.Speed => MixSettingKind.Speed,
            _ => MixSettingKind.Stop,
        },
        Part,
        Value,
        Ratio);

    /// <summary>Sets a part's level: decibels, at most +12; below -60 is silence.</summary>
    public static EngineCommand PartLevel(int part, double decibels) => new(EngineCommandKind.PartLevel, part, decibels, default);

    /// <summary>Sets a part's pan: -100 left to 100 right.</summary>
    public static EngineCommand PartPan(int part, int pan) => new(EngineCommandKind.PartPan, part, pan, default);

    /// <summary>Mutes a part, or lets it be heard again.</summary>
    public static EngineCommand PartMute(int part, bool muted) => new(EngineCommandKind.PartMute, part, muted ? 1 : 0, default);

    /// <summary>Sets the level of the whole, in decibels, at most +12; below -80 is silence.</summary>
    public static EngineCommand MasterLevel(double decibels) => new(EngineCommandKind.MasterLevel, 0, decibels, default);

    /// <summary>Sets the speed: 1 is as written, 3/2 half as fast again. 1/16 to 16, of two numbers up to 16,384.</summary>
    /// <exception cref="ArgumentOutOfRangeException">Outside that.</exception>
    public static EngineCommand Speed(Rational ratio)
    {
        if (!Exactness.IsUsableSpeed(ratio))
        {
            throw new ArgumentOutOfRangeException(nameof(ratio), "A speed is between 1/16 and 16, of two numbers up to 16384.");
        }

        return new EngineCommand(EngineCommandKind.Speed, 0, 0, ratio);
    }

    /// <summary>Fades out and stops: every note is released, and nothing sounds after the fade.</summary>
    public static EngineCommand Stop(double fadeSeconds) => new(EngineCommandKind.Stop, 0, fadeSeconds, default);
}

/// <summary>What an engine reports.</summary>
public enum EngineReportKind
{
    /// <summary>A command took effect.</summary>
    Done,

    /// <summary>New bars were accepted: from this frame on, what the old ones had not begun is dropped.</summary>
    ReplaceAccepted,

    /// <summary>New bars came too late for their bar line and were put off to a later one.</summary>
    ReplaceRefused,

    /// <summary>The bar line of the first new bar, and with it the change, was reached.</summary>
    ReplaceBegun,

    /// <summary>The music came to its end.</summary>
    Ended,

    /// <summary>The fade of a stop is done.</summary>
    Stopped,
}

/// <summary>
/// A line of the engine's log. Read to a reported frame and give the same commands and bars again, and the same samples come out.
/// </summary>
/// <param name="Kind">What happened.</param>
/// <param name="Frame">The frame on which it took effect.</param>
/// <param name="Ordinal">The bar of the performance that played then, or with replaced bars the first of them; counted from 0, -1 before.</param>
/// <param name="Epoch">Which plan of the performance; each replacement has its own.</param>
/// <param name="Id">The command's number, as <see cref="GrooveEngine.Post"/> gave it; 0 without a command.</param>
/// <param name="Command">The command; default without one.</param>
public readonly record struct EngineReport(EngineReportKind Kind, long Frame, int Ordinal, int Epoch, long Id, EngineCommand Command);

/// <summary>How often something went otherwise than it should; all stay 0 when all is well.</summary>
/// <param name="LateBars">Bar lines that came before their bar did.</param>
/// <param name="DroppedEvents">Notes and steps for which there was no room or whose moment was over.</param>
/// <param name="LostReports">Reports that nobody took in time.</param>
/// <param name="Faults">Blocks replaced by silence because something failed, against its contract.</param>
public readonly record struct EngineCounters(long LateBars, long DroppedEvents, long LostReports, long Faults);
