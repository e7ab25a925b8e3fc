using GrooveLab.Music.Bars;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;

namespace GrooveLab.Exchange.Midi;

/// <summary>Options for writing a band into a MIDI file.</summary>
public sealed record MidiExportOptions
{
    /// <summary>True to write human feel: offsets, spread strums, overlaps. Without it all notes start and end at their exact places;
    /// only grace notes, which have no place of their own, still come before their note.</summary>
    public bool HumanFeel { get; init; } = true;
}

/// <summary>A band as a MIDI file.</summary>
/// <param name="File">The file: format 1, the conductor track first, then one per part.</param>
/// <param name="Remarks">Departures of the file from the music, for the user; usually empty.</param>
/// <param name="LargestTempoError">The largest difference between the file's time and the exact time, in microseconds.</param>
public sealed record MidiExportResult(MidiFile File, IReadOnlyList<string> Remarks, double LargestTempoError);

/// <summary>Bars cannot be written into a MIDI file; it lists all reasons with their bars.</summary>
public sealed class MidiExportException(IReadOnlyList<string> problems) : Exception(string.Join('\n', problems))
{
    /// <summary>The reasons.</summary>
    public IReadOnlyList<string> Problems { get; } = problems;
}

/// <summary>Writes a band's performance into a Standard MIDI File. docs/midi.md describes its structure and rounding.</summary>
public static class MidiExport
{
    /// <summary>Writes all bars of a band, from its lead-in, if it has one, to its end.</summary>
    /// <exception cref="MidiExportException">A bar is below MIDI's minimum tempo.</exception>
    /// <exception cref="ArgumentException">The band has no end.</exception>
    public static MidiExportResult Of(IBarSource band, MidiExportOptions? options = null)
    {
        var end = band.End ?? throw new ArgumentException("Endless bars cannot be written; set a number of bars.", nameof(band));
        var bars = new List<Bar>();
        for (var index = band.First; index < end; index++)
        {
            bars.Add(band.BarAt(index));
        }

        var remarks = new List<string>();
        var grid = new TickGrid(bars);
        var slow = new List<int>();
        var tempi = WrittenTempi.Of(bars, grid, i => slow.Add(Math.Max(0, bars[i].Index)));
        if (slow.Count > 0)
        {
            throw new MidiExportException(
                [$"{BarList([.. slow.Distinct()])}: below MIDI's minimum tempo of 3.58 quarters per minute in the written note values; use a faster tempo"]);
        }

        RemarkMeters(bars, remarks);
        var notes = new ExportedNotes(band, bars, grid, tempi, options ?? new MidiExportOptions());
        remarks.AddRange(notes.Remarks);
        var endTick = Math.Max(grid.EndTick, notes.LastTick);
        var tracks = new List<MidiTrack> { Conductor(band, bars, grid, tempi, endTick) };
        tracks.AddRange(notes.Tracks(endTick));
        return new MidiExportResult(
            new MidiFile(1, MidiDivision.PerQuarter(grid.TicksPerQuarter), tracks), remarks, tempi.LargestError);
    }

    /// <summary>The four bytes of a time signature event: units; the unit as a power of two; MIDI clocks per click (three units if all
    /// groups have three, otherwise one unit; a quarter if that is not a whole number); eight thirty-seconds per quarter.</summary>
    internal static byte[] TimeSignature(BarMeter meter)
    {
        var denominator = TickGrid.WrittenDenominator(meter.Signature.Denominator);
        var units = meter.GroupSizes.Count > 1 && meter.GroupSizes.All(size => size == 3) ? 3 : 1;
        var clocks = 96 * units % denominator == 0 ? 96 * units / denominator : 24;
        return [(byte)meter.Units, (byte)int.Log2(denominator), (byte)(clocks > 255 ? 24 : clocks), 8];
    }

    /// <summary>The two bytes of a key signature event; a mode with a minor third counts as minor.</summary>
    internal static byte[] KeySignature(Key key) => [unchecked((byte)(sbyte)key.Fifths), key.IsMinor ? (byte)1 : (byte)0];

    /// <summary>"bar 3", "bars 3 to 8, 11".</summary>
    internal static string BarList(IReadOnlyList<int> indices)
    {
        var ranges = new List<string>();
        for (int from = 0, to; from < indices.Count; from = to)
        {
            for (to = from + 1; to < indices.Count && indices[to] == indices[to - 1] + 1; to++)
            {
            }

            ranges.Add(to - from == 1 ? $"{indices[from] + 1}" : $"{indices[from] + 1} to {indices[to - 1] + 1}");
        }

        return (indices.Count == 1 ? "bar " : "bars ") + string.Join(", ", ranges);
    }

    private static void RemarkMeters(IReadOnlyList<Bar> bars, List<string> remarks)
    {
        foreach (var group in bars.Where(bar => bar.Index >= 0 && TickGrid.StretchOf(bar.Meter.Signature) != 1).GroupBy(bar => bar.Meter.Signature))
        {
            remarks.Add(
                $"{BarList([.. group.Select(bar => bar.Index)])}: {group.Key} is written as {Written(group.Key)}, as MIDI files have no such unit; "
                + "the tempo compensates, so that every note keeps its time");
        }
    }

    private static string Written(TimeSignature signature) => $"{signature.Numerator}/{TickGrid.WrittenDenominator(signature.Denominator)}";

    private static MidiTrack Conductor(IBarSource band, IReadOnlyList<Bar> bars, TickGrid grid, WrittenTempi tempi, long endTick)
    {
        var events = new List<MidiEvent> { MidiEvent.Meta(0, MetaType.TrackName, band.Heading.Title) };
        BarMeter? meter = null;
        Key? key = null;
        var chord = string.Empty;
        foreach (var bar in bars)
        {
            var tick = grid.TickAt(bar.Start);
            if (!bar.Key.Equals(key))
            {
                key = bar.Key;
                events.Add(MidiEvent.Meta(tick, MetaType.KeySignature, KeySignature(key)));
                events.Add(MidiEvent.Meta(tick, MetaType.Text, $"key {key}"));
            }

            if (!bar.Meter.Equals(meter))
            {
                meter = bar.Meter;
                events.Add(MidiEvent.Meta(tick, MetaType.TimeSignature, TimeSignature(meter)));
                events.Add(MidiEvent.Meta(
                    tick,
                    MetaType.Text,
                    TickGrid.StretchOf(meter.Signature) == 1 ? $"meter {meter}" : $"meter {meter} written as {Written(meter.Signature)}"));
            }

            if (Section(bar) is { } section)
            {
                chord = string.Empty;
                events.Add(MidiEvent.Meta(tick, MetaType.Marker, $"[{section}]"));
            }

            foreach (var span in bar.Chords)
            {
                if (span.Symbol.Text != chord)
                {
                    chord = span.Symbol.Text;
                    events.Add(MidiEvent.Meta(grid.TickAt(bar.Start + span.Onset), MetaType.Marker, chord));
                }
            }
        }

        foreach (var (tick, tempo) in tempi.All)
        {
            events.Add(MidiEvent.Meta(tick, MetaType.Tempo, [(byte)(tempo >> 16), (byte)(tempo >> 8 & 0xFF), (byte)(tempo & 0xFF)]));
        }

        // A stable sort: events on one tick stay in the order in which they were added.
        return new MidiTrack([.. events.OrderBy(item => item.Tick)], endTick);
    }

    private static string? Section(Bar bar) =>
        bar.Index < 0 ? "lead-in" : bar.IsEnding ? "ending" : bar.IndexInSection == 0 ? bar.Section : null;
}
