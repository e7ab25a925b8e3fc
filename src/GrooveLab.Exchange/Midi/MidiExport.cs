using GrooveLab.Music.Bars;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;

namespace GrooveLab.Exchange.Midi;

/// <summary>How a band is written into a MIDI file.</summary>
public sealed record MidiExportOptions
{
    /// <summary>
    /// Whether human feel is written: offsets, spread strums, overlaps. Without it every note starts and ends on its exact place; only grace notes,
    /// which have no place of their own, still come before their note.
    /// </summary>
    public bool HumanFeel { get; init; } = true;
}

/// <summary>A band as a MIDI file.</summary>
/// <param name="File">The file: format 1, the conductor's track first, then one for each part.</param>
/// <param name="Remarks">What the file holds otherwise than the music has it, for the reader; usually empty.</param>
/// <param name="LargestTempoError">How far the file's time is from the exact time where it is furthest, in microseconds.</param>
public sealed record MidiExportResult(MidiFile File, IReadOnlyList<string> Remarks, double LargestTempoError);

/// <summary>Bars cannot be written into a MIDI file; every reason is there, with its bars.</summary>
public sealed class MidiExportException(IReadOnlyList<string> problems) : Exception(string.Join('\n', problems))
{
    /// <summary>The reasons.</summary>
    public IReadOnlyList<string> Problems { get; } = problems;
}

/// <summary>
/// Writes what a band plays into a Standard MIDI File. docs/midi.md says how it is laid out and what is rounded.
/// </summary>
public static class MidiExport
{
    /// <summary>Writes all bars of a band, from its lead-in, if it has one, to its end.</summary>
    /// <exception cref="MidiExportException">A bar goes slower than a file can say.</exception>
    /// <exception cref="ArgumentException">The band has no end.</exception>
    public static MidiExportResult Of(IBarSource band, MidiExportOptions? options = null)
    {
        var end = band.End ?? throw new ArgumentException("What goes on until told cannot be written; give it a number of bars.", nameof(band));
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
                [$"{BarList([.. slow.Distinct()])}: slower than a MIDI file can say, which is 3.58 quarters a minute in the note values written; a faster tempo is accepted"]);
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

    /// <summary>
    /// The four bytes of a time signature event: units; the unit as a power of two; MIDI clocks a click (three units where there are groups and all have three,
    /// else a unit; a quarter where that is no whole number); eight thirty-seconds a quarter.
    /// </summary>
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
                + "the tempo makes up for it, so that every note keeps its time");
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

        // A stable sort: on one tick the order is that in which they were added.
        return new MidiTrack([.. events.OrderBy(item => item.Tick)], endTick);
    }

    private static string? Section(Bar bar) =>
        bar.Index < 0 ? "lead-in" : bar.IsEnding ? "ending" : bar.IndexInSection == 0 ? bar.Section : null;
}
