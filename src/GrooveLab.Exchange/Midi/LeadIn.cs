using System.Globalization;
using GrooveLab.Exchange.Scores;
using GrooveLab.Music.Notation;

namespace GrooveLab.Exchange.Midi;

/// <summary>Leaves out the count-in that this program's own export marks <c>[lead-in]</c>: a chart has its own. A pickup inside it stays.</summary>
internal static class LeadIn
{
    private const string Marker = "[lead-in]";

    /// <summary>The file without its count-in; the same file when it has none.</summary>
    /// <param name="file">The file.</param>
    /// <param name="name">Its name, for the remark.</param>
    /// <param name="notCarried">Receives what was left out.</param>
    public static MidiFile Without(MidiFile file, string name, List<ScoreRemark> notCarried)
    {
        var signs = file.Tracks.SelectMany(track => track.Events.Where(item => item.IsMeta)).OrderBy(item => item.Tick).ToList();
        var markers = signs.Where(item => item.Data1 == MetaType.Marker && item.Text.StartsWith('[')).ToList();
        if (file.Division.IsSmpte || markers.Count < 2 || markers[0].Text != Marker
            || signs.FindLast(item => item.Data1 == MetaType.TimeSignature && item.Tick <= markers[0].Tick) is not { Content.Length: >= 2 } meter
            || meter.Content.Span[1] > 6 || meter.Content.Span[0] == 0)
        {
            return file;
        }

        var end = markers[1].Tick;
        var unit = Math.Max(1, 4L * file.Division.Ticks >> meter.Content.Span[1]);
        var bar = unit * meter.Content.Span[0];
        var first = file.Tracks.SelectMany(track => track.Events.Where(item => item.IsNoteOn && item.Channel != 9 && item.Tick >= end - bar && item.Tick < end))
            .Select(item => item.Tick).DefaultIfEmpty(end).Min();
        var units = (end - first + unit - 1) / unit;
        var cut = Math.Max(0, end - (units * unit));
        notCarried.Add(new ScoreRemark(
            new Origin(name, null, string.Create(CultureInfo.InvariantCulture, $"tick {markers[0].Tick}")), string.Create(CultureInfo.InvariantCulture, $"the count-in of {end / bar} bars"), "a chart has its own"));
        return new MidiFile(file.Format, file.Division, [.. file.Tracks.Select((track, t) => Shortened(track, cut, t == 0 ? Signs(signs, meter, cut, end, (int)units) : []))])
        {
            Warnings = file.Warnings,
        };
    }

    // The meters of the music, and one for a pickup.
    private static IEnumerable<MidiEvent> Signs(List<MidiEvent> signs, MidiEvent meter, long cut, long end, int units)
    {
        if (cut < end)
        {
            yield return MidiEvent.Meta(0, MetaType.TimeSignature, [(byte)units, meter.Content.Span[1], 24, 8]);
        }

        var last = signs.FindLast(item => item.Data1 == MetaType.TimeSignature && item.Tick <= end);
        yield return last.At(end - cut);
        foreach (var text in signs.Where(item => item.Data1 == MetaType.Text && item.Tick == last.Tick && item.Text.StartsWith("meter ", StringComparison.Ordinal)))
        {
            yield return text.At(end - cut);
        }
    }

    private static MidiTrack Shortened(MidiTrack track, long cut, IEnumerable<MidiEvent> signs)
    {
        var kept = signs.ToList();
        var dropped = new Dictionary<(int Channel, int Key), int>();
        foreach (var item in track.Events)
        {
            var isEarly = item.Tick < cut;
            if (item.IsNoteOn)
            {
                if (isEarly)
                {
                    dropped[(item.Channel, item.Data1)] = dropped.GetValueOrDefault((item.Channel, item.Data1)) + 1;
                    continue;
                }
            }
            else if (item.IsNoteOff)
            {
                if (dropped.TryGetValue((item.Channel, item.Data1), out var open) && open > 0)
                {
                    dropped[(item.Channel, item.Data1)] = open - 1;
                    continue;
                }
            }
            else if (isEarly && item.IsMeta && (item.Data1 is MetaType.Marker or MetaType.TimeSignature or MetaType.Lyric
                || (item.Data1 == MetaType.Text && item.Text.StartsWith("meter ", StringComparison.Ordinal))))
            {
                continue;
            }

            kept.Add(item.At(Math.Max(0, item.Tick - cut)));
        }

        return new MidiTrack([.. kept.OrderBy(item => item.Tick)], Math.Max(0, track.EndTick - cut));
    }
}
