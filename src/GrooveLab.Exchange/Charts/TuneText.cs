using System.Text;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.Charts;

/// <summary>Writes the notes of a tune: rests in the gaps, ties over the bar lines.</summary>
internal sealed class TuneText(Tune tune, IReadOnlyList<BarMeter> meters, string section)
{
    private Span? _carried;
    private int _note;

    public (string Pickup, IReadOnlyList<string> Bars) Write()
    {
        var pickup = tune.PickupLength == Span.Zero ? string.Empty : Stretch(-tune.PickupLength, tune.PickupLength, meters[0]);
        var bars = new List<string>();
        var at = Span.Zero;
        foreach (var meter in meters)
        {
            bars.Add(Stretch(at, meter.Length, meter));
            at += meter.Length;
        }

        var left = _note < tune.Notes.Count || tune.Notes.Count > 0 && tune.Notes[^1].Onset + tune.Notes[^1].Length > at;
        return left
            ? throw new ChartProblemException("the tune goes on after its section; shorten it or give the section more bars", section, null)
            : (pickup, bars);
    }

    // What sounds in a bar, or in the pickup.
    private string Stretch(Span from, Span length, BarMeter meter)
    {
        var to = from + length;
        var text = new StringBuilder();
        var at = from;
        while (at < to)
        {
            var note = _note < tune.Notes.Count ? tune.Notes[_note] : null;
            if (note is null || note.Onset >= to)
            {
                Rest(to - at, text, meter, wholeBar: at == from && length == meter.Length);
                break;
            }

            if (note.Onset > at)
            {
                Rest(note.Onset - at, text, meter, wholeBar: false);
                at = note.Onset;
            }

            var end = note.Onset + note.Length;
            var tied = end > to;
            var graces = note.Onset == at && note.Graces.Count > 0 ? $"({string.Join(' ', note.Graces)})" : string.Empty;
            Add(text, graces + note.Pitch, Span.Min(end, to) - at, meter, tied ? "~" : string.Empty);
            at = Span.Min(end, to);
            if (!tied)
            {
                _note++;
            }
        }

        return text.ToString();
    }

    private void Rest(Span length, StringBuilder text, BarMeter meter, bool wholeBar)
    {
        if (wholeBar)
        {
            text.Append('r');
        }
        else
        {
            Add(text, "r", length, meter, string.Empty);
        }
    }

    private void Add(StringBuilder text, string what, Span length, BarMeter meter, string tie)
    {
        if (text.Length > 0)
        {
            text.Append(' ');
        }

        text.Append(what);

        // A rest alone in its bar would be read as the whole bar's.
        if (_carried != length || what == "r")
        {
            var units = length / meter.Unit;
            text.Append(':').Append(units.IsInteger ? units.ToString() : length.ToString());
            _carried = length;
        }

        text.Append(tie);
    }
}
