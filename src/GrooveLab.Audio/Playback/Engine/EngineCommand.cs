using GrooveLab.Music.Performance;
using GrooveLab.Music.Time;

namespace GrooveLab.Audio.Playback.Engine;

/// <summary>The target of a command.</summary>
public enum EngineCommandKind
{
    /// <summary>A part's level.</summary>
    PartLevel,

    /// <summary>A part's pan.</summary>
    PartPan,

    /// <summary>Whether a part is muted.</summary>
    PartMute,

    /// <summary>The overall level.</summary>
    MasterLevel,

    /// <summary>The speed as a factor on the written tempo.</summary>
    Speed,

    /// <summary>Stop with a fade.</summary>
    Stop,
}

/// <summary>
/// A change that takes effect at once, in the next whole block of the engine. Not a structural change: bars are replaced through
/// the composer (<see cref="BarPreparer.Replace"/>) at a bar line.
/// </summary>
/// <param name="Kind">What changes.</param>
/// <param name="Part">Index of the part in the current band, if the command is for a part.</param>
/// <param name="Value">Decibels, pan (-100 to 100), 1 for muted and 0 for not, or the seconds of a fade.</param>
/// <param name="Ratio">The speed.</param>
public readonly record struct EngineCommand(EngineCommandKind Kind, int Part, double Value, Rational Ratio)
{
    /// <summary>The command for a logged setting.</summary>
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

    /// <summary>The setting to log.</summary>
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

    /// <summary>Mutes or unmutes a part.</summary>
    public static EngineCommand PartMute(int part, bool muted) => new(EngineCommandKind.PartMute, part, muted ? 1 : 0, default);

    /// <summary>Sets the overall level, in decibels, at most +12; below -80 is silence.</summary>
    public static EngineCommand MasterLevel(double decibels) => new(EngineCommandKind.MasterLevel, 0, decibels, default);

    /// <summary>Sets the speed: 1 is as written, 3/2 one and a half times as fast. From 1/16 to 16; numerator and denominator up
    /// to 16,384.</summary>
    /// <exception cref="ArgumentOutOfRangeException">Out of range.</exception>
    public static EngineCommand Speed(Rational ratio)
    {
        if (!Exactness.IsUsableSpeed(ratio))
        {
            throw new ArgumentOutOfRangeException(nameof(ratio), "A speed must be from 1/16 to 16, of two numbers up to 16384.");
        }

        return new EngineCommand(EngineCommandKind.Speed, 0, 0, ratio);
    }

    /// <summary>Fades out and stops: all notes are released, and the sound ends with the fade.</summary>
    public static EngineCommand Stop(double fadeSeconds) => new(EngineCommandKind.Stop, 0, fadeSeconds, default);
}

/// <summary>The kinds of reports of an engine.</summary>
public enum EngineReportKind
{
    /// <summary>A command took effect.</summary>
    Done,

    /// <summary>New bars were accepted: from this frame on, events of the old ones that have not begun are dropped.</summary>
    ReplaceAccepted,

    /// <summary>New bars came too late for their bar line and were postponed to a later one.</summary>
    ReplaceRefused,

    /// <summary>The bar line of the first new bar, and with it the change, was reached.</summary>
    ReplaceBegun,

    /// <summary>The music ended.</summary>
    Ended,

    /// <summary>The fade of a stop ended.</summary>
    Stopped,
}

/// <summary>
/// A report of the engine. Reading up to its frame and giving the same commands and bars again yields the same samples.
/// </summary>
/// <param name="Kind">What happened.</param>
/// <param name="Frame">The frame on which it took effect.</param>
/// <param name="Ordinal">The bar of the performance at that frame, or the first of the replaced bars; from 0, -1 before the first.</param>
/// <param name="Epoch">The plan of the performance; each replacement has a new one.</param>
/// <param name="Id">The command's number from <see cref="GrooveEngine.Post"/>; 0 without a command.</param>
/// <param name="Command">The command; default without one.</param>
public readonly record struct EngineReport(EngineReportKind Kind, long Frame, int Ordinal, int Epoch, long Id, EngineCommand Command);

/// <summary>Counters of problems; all stay 0 without problems.</summary>
/// <param name="LateBars">Bar lines that came before their bar was ready.</param>
/// <param name="DroppedEvents">Notes and controller steps that had no room or came too late.</param>
/// <param name="LostReports">Reports that were not read in time.</param>
/// <param name="Faults">Blocks replaced by silence because something failed, against its contract.</param>
public readonly record struct EngineCounters(long LateBars, long DroppedEvents, long LostReports, long Faults);
