using System.Globalization;
using GrooveLab.Audio.Devices;
using GrooveLab.Audio.Failures;
using GrooveLab.Audio.Playback.Engine;
using GrooveLab.Audio.Synthesis;
using GrooveLab.Music.Wording;

namespace GrooveLab.Audio.Playback;

/// <summary>
/// All problems while music plays, live or to a file, in numbers and words: for the status line, the screen and the
/// summary at the end. Immutable.
/// </summary>
public sealed class Health
{
    private static readonly Lazy<Health> AllWell = new(() => new Health(default, null, [], AudioOutputs.DefaultSampleRate));

    private readonly DeviceState? _device;
    private IReadOnlyList<HealthEntry>? _entries;
    private Fitted? _fitted;

    private Health(HealthNumbers numbers, DeviceState? device, IReadOnlyList<CaughtFailure> failures, int sampleRate)
    {
        Numbers = numbers;
        Failures = failures;
        SampleRate = sampleRate;
        _device = device;
    }

    /// <summary>The health without any problem.</summary>
    public static Health Good => AllWell.Value;

    /// <summary>The counters.</summary>
    public HealthNumbers Numbers { get; }

    /// <summary>The failures that were caught, each kind once, also those that are over.</summary>
    public IReadOnlyList<CaughtFailure> Failures { get; }

    /// <summary>The problems, the worst first; empty if there are none.</summary>
    public IReadOnlyList<HealthEntry> Entries => _entries ??= [.. Listed()];

    /// <summary>Whether there are no problems.</summary>
    public bool IsGood => Entries.Count == 0;

    private int SampleRate { get; }

    /// <summary>Collects the health of an engine and everything around it.</summary>
    /// <param name="engine">The engine.</param>
    /// <param name="bars">The preparer of its bars.</param>
    /// <param name="synth">The synthesizer; only <see cref="SoundFontSynth"/> has counters.</param>
    /// <param name="limiter">The limiter of the mix; null without one.</param>
    /// <param name="output">The output; null for a file.</param>
    /// <param name="failures">The failures that were caught.</param>
    /// <param name="before">The last result, which is returned again if nothing has changed; null for none.</param>
    internal static Health Of(
        GrooveEngine engine, BarPreparer bars, ISoundFontSynth synth, Limiter? limiter, IAudioOutput? output, FailureLog failures, Health? before)
    {
        var counters = engine.Counters;
        var numbers = With(
            new HealthNumbers
            {
                Faults = counters.Faults,
                LateBars = counters.LateBars,
                DroppedEvents = counters.DroppedEvents,
                LostReports = counters.LostReports,
                FailedBars = bars.FailedBars,
                NotesBeyondRoom = bars.NotesBeyondRoom,
                UnplayableNotes = bars.UnplayableNotes,
                Gaps = output?.Underruns ?? 0,
                DeviceLosses = output?.Losses ?? 0,
            },
            synth,
            limiter);
        DeviceState? device = output is null ? null : new DeviceState(output.State, output.Failure, output.TriesAgain, output.LastLoss);
        var all = failures.All;
        return before is not null && before.Numbers == numbers && before._device == device && ReferenceEquals(before.Failures, all)
            ? before
            : new Health(numbers, device, all, engine.Options.SampleRate);
    }

    /// <summary>
    /// The health after channel messages were rendered to a file without an engine. It leaves out the limiter: the caller reports the peak level
    /// itself.
    /// </summary>
    /// <param name="synth">The synthesizer.</param>
    /// <param name="limiter">The limiter of the mix.</param>
    public static Health OfMessages(ISoundFontSynth synth, Limiter limiter) => new(
        With(default, synth, limiter) with { SquashedFrames = 0 }, null, [], synth.SampleRate);

    /// <summary>The health of a mix of parts that were played apart, each by its own engine.</summary>
    /// <param name="parts">The health of each.</param>
    /// <param name="limiter">The limiter of the mix.</param>
    /// <param name="sampleRate">Frames a second.</param>
    internal static Health OfMix(IEnumerable<Health> parts, Limiter limiter, int sampleRate)
    {
        var all = parts.ToList();

        // Every engine meets the same bars; the rest belongs to its part alone.
        var numbers = new HealthNumbers
        {
            FailedBars = all.Max(one => (long?)one.Numbers.FailedBars) ?? 0,
            DroppedEvents = all.Sum(one => one.Numbers.DroppedEvents),
            NotesBeyondRoom = all.Sum(one => one.Numbers.NotesBeyondRoom),
            UnplayableNotes = all.Sum(one => one.Numbers.UnplayableNotes),
            StolenVoices = all.Sum(one => one.Numbers.StolenVoices),
            CutNotes = all.Sum(one => one.Numbers.CutNotes),
            IgnoredCalls = all.Sum(one => one.Numbers.IgnoredCalls),
            SubstitutedPrograms = all.Sum(one => one.Numbers.SubstitutedPrograms),
            UnpreparedPrograms = all.Sum(one => one.Numbers.UnpreparedPrograms),
            LimitedFrames = limiter.ReducedFrames,
            SquashedFrames = limiter.SquashedFrames,
            UnusableSamples = limiter.UnusableSamples,
        };
        return new Health(numbers, null, [.. all.SelectMany(one => one.Failures).DistinctBy(one => one.ToString())], sampleRate);
    }

    /// <summary>
    /// All problems on one line: in full if they fit, otherwise in a few words each, or as many as fit and the number of the others. Empty
    /// without problems.
    /// </summary>
    /// <param name="columns">The most characters.</param>
    public string Line(int columns)
    {
        if (_fitted is { } fitted && fitted.Columns == columns)
        {
            return fitted.Text;
        }

        var text = Fit(Entries, columns);
        _fitted = new Fitted(columns, text);
        return text;
    }

    /// <summary>All problems in full on one line; "no problems" if there are none.</summary>
    public override string ToString() => IsGood ? "no problems" : Line(int.MaxValue);

    private static string Fit(IReadOnlyList<HealthEntry> entries, int columns)
    {
        var sentences = string.Join("; ", entries.Select(entry => entry.Words));
        if (sentences.Length <= columns || entries.Count == 0)
        {
            return sentences;
        }

        for (var told = entries.Count; told > 1; told--)
        {
            var rest = entries.Count - told;
            var text = string.Join(", ", entries.Take(told).Select(entry => entry.Short)) + (rest > 0 ? $" +{rest}" : string.Empty);
            if (text.Length <= columns)
            {
                return text;
            }
        }

        return entries[0].Short + (entries.Count > 1 ? $" +{entries.Count - 1}" : string.Empty);
    }

    private static HealthNumbers With(HealthNumbers numbers, ISoundFontSynth synth, Limiter? limiter)
    {
        if (synth is SoundFontSynth own)
        {
            numbers = numbers with
            {
                StolenVoices = own.StolenVoices,
                CutNotes = own.CutNotes,
                IgnoredCalls = own.IgnoredCalls,
                SubstitutedPrograms = own.SubstitutedPrograms,
                UnpreparedPrograms = own.UnpreparedPrograms,
            };
        }

        return limiter is null ? numbers : numbers with
        {
            LimitedFrames = limiter.ReducedFrames,
            SquashedFrames = limiter.SquashedFrames,
            UnusableSamples = limiter.UnusableSamples,
        };
    }

    private IEnumerable<HealthEntry> Listed()
    {
        if (_device is { State: AudioOutputState.Faulted or AudioOutputState.Lost } stopped)
        {
            yield return new HealthEntry(HealthKind.Stopped, 1, "playing stopped", "playing stopped" + Reason(stopped.Failure));
        }

        if (_device is { State: AudioOutputState.Silent } silent)
        {
            var way = silent.TriesAgain ? "playing in silence and trying again" : "playing in silence";
            yield return new HealthEntry(HealthKind.NoDevice, 1, "no sound device", $"no sound device: {way}{Because(silent.Failure)}");
        }

        if (_device is { State: AudioOutputState.Stopped or AudioOutputState.Ended, Failure: AudioDeviceException missing })
        {
            yield return new HealthEntry(HealthKind.NoDevice, 1, "no sound device", $"no sound device: played in silence{Because(missing)}");
        }

        var n = Numbers;
        foreach (var entry in new[]
        {
            Entry(HealthKind.Faults, n.Faults, "block", "{0} silent", "the engine failed, so {0} of 64 frames {1} silent"),
            Entry(HealthKind.FailedBars, n.FailedBars, "bar", "{0} repeated", "{0} could not be composed; the bar before was repeated"),
            Entry(HealthKind.LateBars, n.LateBars, "bar", "{0} late", "{0} came too late"),
            Entry(HealthKind.Gaps, n.Gaps, "gap", "{0}", "{0} in the sound; a larger --buffer helps on a busy machine"),
            Entry(HealthKind.DroppedEvents, n.DroppedEvents, "note", "{0} lost", "{0} {1} left out: too late, or too many at the same time"),
            Entry(
                HealthKind.NotesBeyondRoom, n.NotesBeyondRoom, "note", "{0} too many",
                string.Create(CultureInfo.InvariantCulture, $"{{0}} {{1}} left out: a bar holds {BarPreparer.MostEventsInBar}")),
            Entry(HealthKind.UnplayableNotes, n.UnplayableNotes, "note", "{0} unplayable", "{0} {1} left out: no such key or channel"),
            Entry(HealthKind.CutNotes, n.CutNotes, "note", "{0} cut", "{0} {1} cut short: too many sounded at the same time; fewer parts or a simpler bank help"),
            Entry(HealthKind.UnpreparedPrograms, n.UnpreparedPrograms, "sound", "{0} missing", "{0} {1} not loaded in time; the old sound continues"),
            Entry(HealthKind.IgnoredCalls, n.IgnoredCalls, "message", "{0} ignored", "{0} {1} ignored: no such channel, key or controller"),
            Entry(HealthKind.UnusableSamples, n.UnusableSamples, "sample", "{0} silenced", "{0} {1} invalid and {1} silenced"),
            n.SquashedFrames == 0 ? null : new HealthEntry(HealthKind.SquashedFrames, n.SquashedFrames, "too loud", TooLoud(n.SquashedFrames)),
            n.DeviceLosses == 0 ? null : new HealthEntry(
                HealthKind.DeviceLosses,
                n.DeviceLosses,
                $"device lost {Times(n.DeviceLosses)}",
                $"the sound device was lost {Times(n.DeviceLosses)}{Because(_device?.LastLoss)}"),
            Entry(HealthKind.LostReports, n.LostReports, "report", "{0} lost", "{0} {1} lost, so the log of changes is incomplete"),
        })
        {
            if (entry is not null)
            {
                yield return entry;
            }
        }

        foreach (var failure in Failures.Where(failure => !failure.IsOver))
        {
            yield return new HealthEntry(HealthKind.Failure, failure.Count, failure.Doing + " failed", failure.ToString());
        }
    }

    // {0} is the number with its noun, {1} "was" or "were".
    private static HealthEntry? Entry(HealthKind kind, long count, string noun, string brief, string words) => count == 0 ? null : new HealthEntry(
        kind,
        count,
        string.Format(CultureInfo.InvariantCulture, brief, Words.Count(count, noun)),
        string.Format(CultureInfo.InvariantCulture, words, Words.Count(count, noun), count == 1 ? "was" : "were"));

    private string TooLoud(long frames) => string.Create(
        CultureInfo.InvariantCulture,
        $"too loud: the limiter reduced the sound by more than {Limiter.UnheardDecibels} dB for {Math.Max(0.1, (double)frames / SampleRate):0.0} s; lower the level");

    private static string Times(long count) => count == 1 ? "once" : string.Create(CultureInfo.InvariantCulture, $"{count} times");

    private static string Reason(Exception? failure) => failure is null ? string.Empty : ": " + Said(failure);

    private static string Because(Exception? failure) => failure is null ? string.Empty : $" ({Said(failure)})";

    private static string Said(Exception failure) => FailureLog.MessageOf(failure).TrimEnd('.');

    private readonly record struct DeviceState(AudioOutputState State, Exception? Failure, bool TriesAgain, Exception? LastLoss);

    private sealed record Fitted(int Columns, string Text);
}
