using System.Globalization;
using GrooveLab.Exchange.Charts;
using GrooveLab.Exchange.Scores;
using GrooveLab.Music.Analysis;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;
using GrooveLab.Music.Wording;

namespace GrooveLab.Exchange.Midi;

/// <summary>Puts a file that was performed without a grid on one: the same events on the ticks of the bars that are found in it.</summary>
internal sealed class PerformedMidi
{
    // Fewer different onsets cannot tell a performance from an unusual rhythm.
    private const int FewestOnsets = 24;

    // The length of the mean vector of the onsets on a circle of one step: 1 when all are on the steps, near 0 when they are anywhere.
    private const double LeastRelation = 0.3;

    // Steps of fewer ticks would fit any onset.
    private const int FewestTicksInStep = 4;

    // A word or marker so near to a note belongs to it.
    private const double NearSeconds = 0.06;

    // A note crushed before another: it is so short, ends when the other begins, and the other lasts at least twice as long. A roll's notes are
    // equally long, a rolled chord's sound together.
    private const double ShortestCrushed = 0.018;
    private const double LongestCrushed = 0.085;
    private const double CrushedOverlap = 0.02;
    private const double ShortestMain = 0.15;
    private const int WidestCrushed = 5;

    private const int BarsForATempo = 8;
    private const double OtherTempo = 0.1;
    private const int MostNamed = 5;
    private static readonly int[] StepsInQuarter = [1, 2, 3, 4, 6, 8, 12, 16];

    // Other divisions are only believed when nearly all onsets are exactly on them: a steady tempo has a relation to some of them by chance.
    private static readonly int[] ExactSteps = [5, 7, 9, 10, 11, 13, 14, 15, 18, 20, 21, 24, 28, 32, 36, 48];
    private const double NearlyAll = 0.9;

    private readonly MidiFile _file;
    private readonly MidiTimeline _timeline;
    private readonly ScoreOptions _options;
    private readonly List<PerformedNote> _notes = [];
    private readonly Dictionary<(int Track, int Index), int> _noteOf = [];

    // The main note of each crushed one.
    private readonly Dictionary<int, int> _crushed = [];

    private PerformedMidi(MidiFile file, ScoreOptions options)
    {
        (_file, _options) = (file, options);
        _timeline = new MidiTimeline(file);
        for (var t = 0; t < file.Tracks.Count; t++)
        {
            ReadNotes(t);
        }

        FindCrushed();
    }

    /// <summary>True when the onsets of a file are related to its beats, or are too few to tell.</summary>
    public static bool HasGrid(MidiFile file)
    {
        if (file.Division.IsSmpte)
        {
            return false;
        }

        var onsets = file.Tracks.SelectMany(track => track.Events.Where(item => item.IsNoteOn)).Select(item => item.Tick).Distinct().ToList();
        if (onsets.Count < FewestOnsets)
        {
            return true;
        }

        var ticks = file.Division.Ticks;
        foreach (var steps in StepsInQuarter.Where((steps, i) => i == 0 || steps * FewestTicksInStep <= ticks))
        {
            double x = 0, y = 0;
            foreach (var onset in onsets)
            {
                var (sine, cosine) = Math.SinCos(2 * Math.PI * (onset % ticks) * steps / ticks);
                (x, y) = (x + cosine, y + sine);
            }

            if (Math.Sqrt((x * x) + (y * y)) / onsets.Count >= LeastRelation)
            {
                return true;
            }
        }

        // A step has at least eight ticks, of which three fit.
        return ExactSteps.Any(steps => steps * 2 * FewestTicksInStep <= ticks
            && onsets.Count(onset => Math.Abs((onset * steps / (double)ticks) - Math.Round(onset * steps / (double)ticks)) * ticks <= steps) >= NearlyAll * onsets.Count);
    }

    /// <summary>The file on the grid that is found in it.</summary>
    /// <param name="file">The file as performed.</param>
    /// <param name="options">What is known of it.</param>
    /// <param name="remarks">Receives what was found and how well the notes fit; or why nothing was.</param>
    /// <returns>The same file when no grid is found.</returns>
    public static MidiFile OnGrid(MidiFile file, ScoreOptions options, List<ScoreRemark> remarks)
    {
        var performed = new PerformedMidi(file, options);
        var order = Enumerable.Range(0, performed._notes.Count).Where(i => !performed._crushed.ContainsKey(i)).OrderBy(i => performed._notes[i].Start).ToArray();
        var grid = PerformedGrid.Find([.. order.Select(i => performed._notes[i])], performed.Hints(remarks));
        if (grid is null)
        {
            performed.Say(remarks, "no grid is found in the notes", "give --meter and --tempo, or --grid file for the bar lines of the file");
            return file;
        }

        performed.Report(grid, remarks);
        var starts = new Span[performed._notes.Count];
        for (var i = 0; i < order.Length; i++)
        {
            starts[order[i]] = grid.Places[i];
        }

        foreach (var (note, main) in performed._crushed)
        {
            starts[note] = starts[main];
        }

        return performed.Written(grid, starts);
    }

    private void Say(List<ScoreRemark> remarks, string what, string remedy) => remarks.Add(new ScoreRemark(new Origin(_options.Name, null, null), what, remedy));

    private void ReadNotes(int t)
    {
        var sounding = new Dictionary<(int Channel, int Key), Queue<int>>();
        var events = _file.Tracks[t].Events;
        for (var e = 0; e < events.Count; e++)
        {
            var item = events[e];
            if (item.IsNoteOn)
            {
                _noteOf.Add((t, e), _notes.Count);
                var start = _timeline.SecondsAt(item.Tick);
                _notes.Add(new PerformedNote(start, start, item.Data1, item.Data2 / 127.0, (t * MidiTimeline.ChannelsOfPort) + item.Channel, item.Channel == 9));
                if (!sounding.TryGetValue((item.Channel, item.Data1), out var open))
                {
                    sounding.Add((item.Channel, item.Data1), open = new Queue<int>());
                }

                open.Enqueue(_notes.Count - 1);
            }
            else if (item.IsNoteOff && sounding.TryGetValue((item.Channel, item.Data1), out var open) && open.TryDequeue(out var note))
            {
                _noteOf.Add((t, e), note);
                _notes[note] = _notes[note] with { End = _timeline.SecondsAt(item.Tick) };
            }
        }
    }

    // Beats are found without them: they come before the beat of their main note.
    private void FindCrushed()
    {
        foreach (var part in Enumerable.Range(0, _notes.Count).Where(i => !_notes[i].IsPercussion).GroupBy(i => _notes[i].Part))
        {
            var order = part.OrderBy(i => _notes[i].Start).ToArray();

            // From behind, so that of several before one note the later ones are known.
            for (var i = order.Length - 2; i >= 0; i--)
            {
                var (note, next) = (_notes[order[i]], _notes[order[i + 1]]);
                var main = _crushed.GetValueOrDefault(order[i + 1], order[i + 1]);
                var apart = next.Start - note.Start;
                if (apart is >= ShortestCrushed and <= LongestCrushed && note.End <= next.Start + CrushedOverlap && Math.Abs(note.Key - next.Key) is > 0 and <= WidestCrushed
                    && _notes[main].End - _notes[main].Start is var lasts && lasts >= ShortestMain && lasts >= 2 * (note.End - note.Start)
                    && (i == 0 || note.Start - _notes[order[i - 1]].Start >= ShortestCrushed))
                {
                    _crushed.Add(order[i], main);
                }
            }
        }
    }

    // A given meter wins over one in the file; 4/4 in the file says nothing, because most programs write it unasked.
    private PerformedHints Hints(List<ScoreRemark> remarks)
    {
        BarMeter? meter = null;
        if (_options.Meter is { } given)
        {
            meter = MeterMarkReader.Read(given, out var problem);
            if (meter is null)
            {
                Say(remarks, $"the meter \"{given}\" cannot be read: {problem}", "the meter is found from the notes");
            }
            else if (!int.IsPow2(meter.Signature.Denominator))
            {
                Say(remarks, $"the meter \"{given}\" has a unit that a MIDI file cannot name", "the meter is found from the notes");
                meter = null;
            }
        }

        return new PerformedHints { Meter = meter, BarAt = _options.BarAt, WholeNote = WholeNote(meter, remarks) };
    }

    private double? WholeNote(BarMeter? meter, List<ScoreRemark> remarks)
    {
        if (_options.Tempo is not { } given)
        {
            return null;
        }

        if (!TempoText.TryMark(given, out var mark, out var problem))
        {
            Say(remarks, $"the tempo \"{given}\" cannot be read: {problem}", "the tempo is found from the notes");
            return null;
        }

        if (mark.Level != TempoLevel.Note && meter is null)
        {
            Say(remarks, $"the tempo \"{given}\" needs a meter", "give --meter too, or a note value: --tempo \"quarter = 96\"");
            return null;
        }

        try
        {
            return mark.At(meter ?? new BarMeter(new TimeSignature(4, 4), Grouping.Undivided(4)), Span.Of(4, 1)).Seconds(Span.Of(1, 1)).ToDouble();
        }
        catch (ChartProblemException wrong)
        {
            Say(remarks, $"the tempo \"{given}\" cannot be used: {wrong.Message}", "the tempo is found from the notes");
            return null;
        }
    }

    private MidiFile Written(PerformedGrid grid, Span[] starts)
    {
        const int ticks = TickGrid.UsualTicksPerQuarter;
        static long Tick(Span place) => (place.Wholes * 4 * ticks).Round();
        var ends = new long[starts.Length];
        for (var i = 0; i < starts.Length; i++)
        {
            ends[i] = Math.Max(Tick(starts[i]) + 1, Tick(grid.EndAt(_notes[i].End, starts[i])));
        }

        var onsets = Enumerable.Range(0, starts.Length).Select(i => (_notes[i].Start, Tick: Tick(starts[i]))).OrderBy(one => one.Start).ToArray();
        var times = Array.ConvertAll(onsets, one => one.Start);
        var tracks = new List<MidiTrack>();
        var graces = new Dictionary<(int Track, long Tick, int Key), int[]>();
        for (var t = 0; t < _file.Tracks.Count; t++)
        {
            var moved = new List<MidiEvent>();
            if (t == 0)
            {
                moved.AddRange(Signs(grid, Tick));
            }

            var events = _file.Tracks[t].Events;
            for (var e = 0; e < events.Count; e++)
            {
                var item = events[e];
                if (_noteOf.TryGetValue((t, e), out var note) && _crushed.TryGetValue(note, out var main))
                {
                    if (item.IsNoteOn)
                    {
                        var key = (t, Tick(starts[main]), _notes[main].Key);
                        graces[key] = [.. graces.GetValueOrDefault(key, []), note];
                    }
                }
                else if (_noteOf.TryGetValue((t, e), out note))
                {
                    moved.Add(item.At(item.IsNoteOn ? Tick(starts[note]) : ends[note]));
                }
                else if (!(item.IsMeta && item.Data1 is MetaType.Tempo or MetaType.TimeSignature) && !item.IsNoteOff)
                {
                    moved.Add(item.At(Near(times, _timeline.SecondsAt(item.Tick)) is { } near ? onsets[near].Tick : Tick(grid.PlaceAt(_timeline.SecondsAt(item.Tick)))));
                }
            }

            // Ends before starts on one tick, otherwise the order of the file.
            MidiEvent[] sorted = [.. moved.OrderBy(item => item.Tick).ThenBy(item => item.IsNoteOff ? 0 : item.IsNoteOn ? 2 : 1)];
            var end = Math.Max(sorted.Length == 0 ? 0 : sorted[^1].Tick, Tick(grid.PlaceAt(_timeline.SecondsAt(_file.Tracks[t].EndTick))));
            tracks.Add(new MidiTrack(sorted, end));
        }

        return new MidiFile(_file.Format, MidiDivision.PerQuarter(ticks), tracks)
        {
            Warnings = _file.Warnings,
            Graces = graces.ToDictionary(pair => pair.Key, pair => (IReadOnlyList<int>)[.. pair.Value.OrderBy(note => _notes[note].Start).Select(note => _notes[note].Key)]),
        };
    }

    private static int? Near(double[] times, double seconds)
    {
        var index = Array.BinarySearch(times, seconds);
        index = index < 0 ? ~index : index;
        int? best = null;
        foreach (var i in new[] { index - 1, index })
        {
            if (i >= 0 && i < times.Length && Math.Abs(times[i] - seconds) <= NearSeconds && (best is not { } other || Math.Abs(times[i] - seconds) < Math.Abs(times[other] - seconds)))
            {
                best = i;
            }
        }

        return best;
    }

    private static List<MidiEvent> Signs(PerformedGrid grid, Func<Span, long> tick)
    {
        var signs = new List<MidiEvent>();
        BarMeter? meter = null;
        for (var b = 0; b < grid.Bars.Count; b++)
        {
            var bar = grid.Bars[b];
            var at = tick(bar.Start);
            if (!bar.Meter.Equals(meter))
            {
                meter = bar.Meter;
                signs.Add(MidiEvent.Meta(at, MetaType.TimeSignature, [(byte)meter.Units, (byte)int.Log2(meter.Signature.Denominator), 24, 8]));
                if (!meter.Grouping.IsUndivided)
                {
                    signs.Add(MidiEvent.Meta(at, MetaType.Text, $"meter {meter}"));
                }
            }
        }

        foreach (var (bar, quarters) in Tempi(grid))
        {
            var microseconds = Math.Clamp((int)Math.Round(60e6 / Math.Max(1, Math.Round(quarters))), 1, WrittenTempi.Slowest);
            signs.Add(MidiEvent.Meta(tick(grid.Bars[bar].Start), MetaType.Tempo, [(byte)(microseconds >> 16), (byte)(microseconds >> 8 & 0xFF), (byte)(microseconds & 0xFF)]));
        }

        return signs;
    }

    // One tempo for each stretch of at least eight bars; what changes less or for fewer bars is the players' freedom.
    private static List<(int Bar, double Quarters)> Tempi(PerformedGrid grid)
    {
        var tempi = grid.Bars.Select(bar => bar.QuartersPerMinute).ToList();
        double Median(int from, int count)
        {
            var sorted = tempi.Skip(from).Take(count).Order().ToList();
            return sorted[sorted.Count / 2];
        }

        var starts = new List<int> { 0 };
        var now = Median(0, BarsForATempo);
        for (var b = 1; b + BarsForATempo <= tempi.Count; b++)
        {
            var next = Median(b, BarsForATempo);
            if (Math.Abs((tempi[b] / now) - 1) > OtherTempo && Math.Abs((next / now) - 1) > OtherTempo && Math.Abs((tempi[b] / next) - 1) < OtherTempo)
            {
                starts.Add(b);
                now = next;
                b += BarsForATempo - 1;
            }
        }

        return [.. starts.Select((start, i) => (start, Median(start, (i + 1 < starts.Count ? starts[i + 1] : tempi.Count) - start)))];
    }

    private void Report(PerformedGrid grid, List<ScoreRemark> remarks)
    {
        string Plain(FormattableString text) => text.ToString(CultureInfo.InvariantCulture);
        var given = _options.Meter is not null && grid.Confidence >= 1;
        var next = !given && grid.Readings.Count > 1 ? Plain($"; next best {grid.Readings[1].Meter.Signature}, {grid.Readings[1].Strength * 100:0} % as clear") : string.Empty;
        Say(remarks, Plain($"performed without a grid; bar lines are found from the notes: {grid.Bars.Count} bars{(grid.HasPickup ? " with the pickup" : "")}, {(given ? "meter as given" : $"mostly {grid.Meter}")}{next}"),
            "if they are wrong, give --meter, --tempo or --first-bar SECONDS");

        var errors = grid.Errors.Select(error => Math.Abs(error) * 1000).ToList();
        double Within(double most) => 100.0 * errors.Count(error => error <= most) / errors.Count;
        Say(remarks, Plain($"notes are {errors.Average():0} ms from their places on average, {errors.Max():0} ms at most; {Within(10):0} % within 10 ms, {Within(25):0} % within 25, {Within(50):0} % within 50"), string.Empty);

        var whole = grid.Bars.Where(bar => bar.Pause == 0).Select(bar => bar.QuartersPerMinute).Order().ToList();
        if (whole.Count > 2)
        {
            Say(remarks, Plain($"tempo between quarter = {whole[0]:0} and {whole[^1]:0}, mostly {whole[whole.Count / 2]:0}"), string.Empty);
        }

        // Their errors stand out from those of the piece.
        var byBar = BarErrors(grid);
        var usual = errors.Average();
        var unsure = byBar.Where(one => one.Mean > 1.6 * usual && one.Mean > 10).OrderByDescending(one => one.Mean).Take(MostNamed).Select(one => one.Bar).Order().ToList();
        if (unsure.Count > 0)
        {
            Say(remarks, Plain($"least sure in {(unsure.Count == 1 ? "bar" : "bars")} {string.Join(", ", unsure)}"), string.Empty);
        }

        var first = grid.HasPickup ? 0 : 1;
        foreach (var (bar, b) in grid.Bars.Select((bar, b) => (bar, b)).Where(one => one.bar.Pause > 0).Take(MostNamed))
        {
            Say(remarks, Plain($"a pause of {bar.Pause:0.0} s in bar {b + first}"), "the bar keeps its length");
        }

        if (_crushed.Count > 0)
        {
            Say(remarks, Plain($"{Words.Count(_crushed.Count, "note")} {(_crushed.Count == 1 ? "is" : "are")} crushed before another"), "written as grace notes");
        }

        if (grid.IsSwung)
        {
            Say(remarks, "short notes are swung, about 2:1", "they are written as triplets");
        }
    }

    private static List<(int Bar, double Mean)> BarErrors(PerformedGrid grid)
    {
        var sums = new double[grid.Bars.Count];
        var counts = new int[grid.Bars.Count];
        for (var i = 0; i < grid.Places.Count; i++)
        {
            var bar = MidiScoreVoices.BarAt(grid.Bars.Count, b => grid.Bars[b].Start, grid.Places[i]);
            sums[bar] += Math.Abs(grid.Errors[i]) * 1000;
            counts[bar]++;
        }

        return [.. Enumerable.Range(0, sums.Length).Where(b => counts[b] > 1).Select(b => (b + (grid.HasPickup ? 0 : 1), sums[b] / counts[b]))];
    }

    private static class MeterMarkReader
    {
        public static BarMeter? Read(string text, out string? problem)
        {
            var meter = Music.Charts.MeterMark.Read(text, null, "write a meter such as 5/8 3+2", out var wrong);
            problem = wrong?.What;
            return meter;
        }
    }
}
