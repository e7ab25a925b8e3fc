using GrooveLab.Music.Charts;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Notation;

namespace GrooveLab.Exchange.Charts;

/// <summary>Writes the notes of a tune line as text, bar by bar, if it has no text yet.</summary>
/// <param name="format">The format of the chart, which determines the signs for ties and rests.</param>
internal sealed class TuneText(int format)
{
    /// <summary>The lowest format that can express the whole tune.</summary>
    public static int FormatOf(Tune tune)
    {
        var measures = tune.Written.Parts.SelectMany(part => part.Measures);
        return tune.Lines.Count > 0 || measures.Any(measure => measure.Marks.Count > 0 || measure.Voices.Any(voice => voice.Events.Any(IsNew)))
            ? ChartReader.Format
            : 1;
    }

    /// <summary>Writes a line.</summary>
    /// <param name="tune">The tune.</param>
    /// <param name="line">The line: 0 is the melody.</param>
    /// <param name="meters">The meters of the section's bars.</param>
    /// <param name="section">The section's name, for messages.</param>
    /// <exception cref="ChartProblemException">The line extends beyond its section, or has something that a chart cannot express: chords,
    /// unpitched notes, microtones, marks without a name here.</exception>
    public (string Pickup, IReadOnlyList<string> Bars) Write(Tune tune, int line, IReadOnlyList<BarMeter> meters, string section)
    {
        var writer = new NoteWriter(NoteStyle.Of(format), section);
        var bars = TuneBars.Of(tune, line, meters, section);
        return (writer.Write(bars.Pickup, meters[0]), [.. bars.Bars.Zip(meters, (bar, meter) => writer.Write(bar, meter))]);
    }

    private static bool IsNew(VoiceEvent one) =>
        one.Marks.Count > 0
        || one is NotesEvent { Late.Wholes.Sign: > 0 }
        || one.Lyrics.Any(lyric => lyric.Stress != Stress.Unknown || lyric.Late is not null);
}
