using GrooveLab.Exchange.Midi;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.Tests.Midi;

/// <summary>A MIDI file played without a grid, and where its notes really are.</summary>
/// <param name="Bytes">The file: ticks of an arbitrary clock, neither tempo nor meter.</param>
/// <param name="Truth">For each note its bar, its place in the bar as a share of the bar, and its key.</param>
/// <param name="FirstBar">When the first bar begins, in seconds.</param>
internal sealed record Performance(byte[] Bytes, IReadOnlyList<(int Bar, Rational Inside, int Key)> Truth, double FirstBar);

/// <summary>How a file is played.</summary>
internal sealed record Playing
{
    /// <summary>Seed of the jitter.</summary>
    public int Seed { get; init; } = 1;

    /// <summary>Standard deviation of the onsets and ends, in seconds.</summary>
    public double Jitter { get; init; } = 0.02;

    /// <summary>From the time of the exported file in seconds and its length to the time when it is played.</summary>
    public Func<double, double, double> Clock { get; init; } = (seconds, _) => seconds;

    /// <summary>Whether a part is played, by its index.</summary>
    public Func<int, bool> Part { get; init; } = _ => true;

    /// <summary>What is done to each note besides: its index in the chord from below, its start and end in exported seconds.</summary>
    public Func<int, double, double, (double Start, double End)>? Touch { get; init; }
}

/// <summary>Plays exported files without a grid. Times and truth come from the exported file's own events and share nothing with the search for
/// the grid.</summary>
internal static class Performances
{
    /// <summary>5 % faster or slower by turns, in a slow sine.</summary>
    public static double Sine(double seconds, double length, int seed) =>
        seconds + (0.05 * Round(seed) / (2 * Math.PI) * Math.Sin((2 * Math.PI * seconds / Round(seed)) + seed));

    /// <summary>5 % slower at the end than at the start, steadily.</summary>
    public static double Linear(double seconds, double length) => seconds + (0.05 * seconds * seconds / 2 / length);

    /// <summary>Plays a file.</summary>
    public static Performance Of(MidiFile file, Playing playing)
    {
        var random = new Random(playing.Seed);
        double Jitter() => playing.Jitter * Math.Sqrt(-2 * Math.Log(1 - random.NextDouble())) * Math.Cos(2 * Math.PI * random.NextDouble());
        var start = 0.5 + (3 * random.NextDouble());
        var seconds = Clock(file);
        var length = seconds(file.Tracks.Max(track => track.EndTick));
        var bars = Bars(file);
        var truth = new List<(int, Rational, int)>();
        var tracks = new List<MidiTrack> { new([], 0) };
        const int perSecond = 960;
        // The first track has no notes; the parts follow.
        foreach (var track in file.Tracks.Skip(1).Where((track, part) => track.Events.Any(item => item.IsNoteOn) && playing.Part(part)))
        {
            var events = new List<(long Tick, int Order, MidiEvent Item)>();
            var open = new Dictionary<(int, int), (long Tick, int Level)>();
            var inChord = (Tick: -1L, Count: 0);
            foreach (var item in track.Events)
            {
                if (item.IsNoteOn)
                {
                    open[(item.Channel, item.Data1)] = (item.Tick, item.Data2);
                }
                else if (item.IsNoteOff && open.Remove((item.Channel, item.Data1), out var on))
                {
                    inChord = inChord.Tick == on.Tick ? (on.Tick, inChord.Count + 1) : (on.Tick, 0);
                    var (from, to) = playing.Touch?.Invoke(inChord.Count, seconds(on.Tick), seconds(item.Tick)) ?? (seconds(on.Tick), seconds(item.Tick));
                    var played = start + playing.Clock(from, length) + Jitter();
                    var ended = Math.Max(played + 0.02, start + playing.Clock(to, length) + Jitter());
                    events.Add(((long)(Math.Max(0, played) * perSecond), 1, MidiEvent.ForChannel((long)(Math.Max(0, played) * perSecond), 0x90 | item.Channel, item.Data1, on.Level)));
                    events.Add(((long)(Math.Max(0, ended) * perSecond), 0, MidiEvent.ForChannel((long)(Math.Max(0, ended) * perSecond), 0x80 | item.Channel, item.Data1)));
                    var bar = bars.FindLastIndex(one => one.Tick <= on.Tick);
                    truth.Add((bar, new Rational(on.Tick - bars[bar].Tick, bars[bar].Length), item.Data1));
                }
            }

            MidiEvent[] sorted = [MidiEvent.Meta(0, MetaType.TrackName, track.Name ?? ""), .. events.OrderBy(one => one.Tick).ThenBy(one => one.Order).Select(one => one.Item)];
            tracks.Add(new MidiTrack(sorted, sorted[^1].Tick));
        }

        return new Performance(MidiFileWriter.ToBytes(new MidiFile(1, MidiDivision.PerQuarter(480), tracks)), truth, start + playing.Clock(0, length));
    }

    /// <summary>The share of notes that are read in their true place: the same place in the bar, and the same bar but for a constant
    /// difference, because a count of bars may begin with a pickup.</summary>
    public static double Share(Performance performance, WrittenMusic music)
    {
        var found = Places(music).GroupBy(note => note).ToDictionary(group => group.Key, group => group.Count());
        var best = 0;
        for (var shift = -2; shift <= 2; shift++)
        {
            var right = performance.Truth.GroupBy(note => (note.Bar + shift, note.Inside, note.Key))
                .Sum(group => Math.Min(group.Count(), found.GetValueOrDefault(group.Key)));
            best = Math.Max(best, right);
        }

        return (double)best / performance.Truth.Count;
    }

    private static double Round(int seed) => 20 + (seed * 7 % 20);

    private static IEnumerable<(int Bar, Rational Inside, int Key)> Places(WrittenMusic music)
    {
        foreach (var part in music.Parts)
        {
            var drums = part.Instruments.Where(one => one.PercussionKey is not null).ToDictionary(one => one.Id, one => one.PercussionKey!.Value);
            for (var m = 0; m < music.Measures.Count; m++)
            {
                foreach (var voice in part.Measures[m].Voices)
                {
                    var at = Span.Zero;
                    foreach (var item in voice.Events)
                    {
                        foreach (var head in (item as NotesEvent)?.Notes.Where(head => head.TiedFrom is null) ?? [])
                        {
                            yield return (m, at / music.LengthOf(m)!.Value, head.Pitch?.Nearest.Midi ?? drums[head.Instruments[0]]);
                        }

                        at += item.Length;
                    }
                }
            }
        }
    }

    // The seconds of a tick through the tempo events of the file.
    private static Func<long, double> Clock(MidiFile file)
    {
        var tempi = file.Tracks.SelectMany(track => track.Events).Where(item => item is { IsMeta: true, Data1: 0x51 }).OrderBy(item => item.Tick)
            .Select(item => (item.Tick, Micro: (item.Content.Span[0] << 16) | (item.Content.Span[1] << 8) | item.Content.Span[2])).ToList();
        var starts = new List<(long Tick, double Seconds, double PerTick)>();
        foreach (var (tick, micro) in tempi)
        {
            var seconds = starts.Count == 0 ? 0 : starts[^1].Seconds + ((tick - starts[^1].Tick) * starts[^1].PerTick);
            starts.Add((tick, seconds, micro / 1e6 / file.Division.Ticks));
        }

        return tick =>
        {
            var at = starts.FindLastIndex(one => one.Tick <= tick);
            return starts[at].Seconds + ((tick - starts[at].Tick) * starts[at].PerTick);
        };
    }

    // The bars by the time signature events of the file.
    private static List<(long Tick, long Length)> Bars(MidiFile file)
    {
        var bars = new List<(long, long)>();
        var signs = file.Tracks[0].Events.Where(item => item is { IsMeta: true, Data1: 0x58 }).ToList();
        var end = file.Tracks.Max(track => track.EndTick);
        for (var i = 0; i < signs.Count; i++)
        {
            var length = 4L * file.Division.Ticks * signs[i].Content.Span[0] >> signs[i].Content.Span[1];
            for (var tick = signs[i].Tick; tick < (i + 1 < signs.Count ? signs[i + 1].Tick : end); tick += length)
            {
                bars.Add((tick, length));
            }
        }

        return bars;
    }
}
