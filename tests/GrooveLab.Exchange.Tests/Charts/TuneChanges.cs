using GrooveLab.Music.Charts;
using GrooveLab.Music.Notation;

namespace GrooveLab.Exchange.Tests.Charts;

/// <summary>Changes of a section's tune; everything else stays as written.</summary>
internal static class TuneChanges
{
    /// <summary>The melody as another list of plain notes, without tuplets, marks and other lines.</summary>
    public static Section WithNotes(Section section, Action<List<TuneNote>> change, bool keepWords = true)
    {
        var notes = section.Tune!.Notes.ToList();
        change(notes);
        return section with { Tune = Tune.Of(notes, keepWords ? section.Tune.Verses : [], section.Bars) };
    }

    /// <summary>The melody with other words.</summary>
    public static Section WithVerses(Section section, params IReadOnlyList<IReadOnlyList<Syllable?>> verses) =>
        section with { Tune = Lines(section, section.Tune!, [verses, .. section.Tune!.Lines.Select(line => line.Verses)]).Made() };

    /// <summary>A builder with all lines of a tune, each with its verses.</summary>
    public static TuneBuilder Lines(Section section, Tune tune, IReadOnlyList<IReadOnlyList<IReadOnlyList<Syllable?>>> verses)
    {
        var lead = tune.Written.Measures[0].IsUncounted ? 1 : 0;
        var builder = new TuneBuilder([.. section.Bars.Select(bar => bar.Meter.Length)]);
        for (var i = 0; i < tune.Written.Parts.Count; i++)
        {
            // The builder adds the words again.
            var measures = tune.Written.Parts[i].Measures.Select(measure => WithEvents(measure, one => [one with { Lyrics = [] }])).ToList();
            builder.Add(
                tune.Written.Parts[i].Name,
                new TuneMeasures(lead == 0 ? PartMeasure.Empty : WithoutGap(measures[0]), [.. measures.Skip(lead)]),
                verses[i]);
        }

        return builder;
    }

    /// <summary>A line with one sounding note replaced by one or more others.</summary>
    /// <param name="tune">The tune.</param>
    /// <param name="line">The line: 0 is the melody.</param>
    /// <param name="note">The note, counted from 0; tied ones separate.</param>
    /// <param name="change">The replacement.</param>
    public static Tune WithEvent(Tune tune, int line, int note, Func<NotesEvent, IEnumerable<VoiceEvent>> change)
    {
        var at = 0;
        var part = tune.Written.Parts[line];
        var changed = part with
        {
            Measures =
            [
                .. part.Measures.Select(measure => WithEvents(
                    measure, one => one is NotesEvent { Grace: null } notes && at++ == note ? change(notes) : [one])),
            ],
        };
        return new Tune(new WrittenMusic(tune.Written.Measures, [.. tune.Written.Parts.Select((other, i) => i == line ? changed : other)]));
    }

    private static PartMeasure WithEvents(PartMeasure measure, Func<VoiceEvent, IEnumerable<VoiceEvent>> change) => measure with
    {
        Voices = [.. measure.Voices.Select(voice => voice with { Events = [.. voice.Events.SelectMany(change)] })],
    };

    private static PartMeasure WithoutGap(PartMeasure measure) => measure.Voices is not [{ Events: [GapEvent gap, ..] } voice] ? measure : measure with
    {
        Voices = [voice with { Events = [.. voice.Events.Skip(1)] }],
        Marks = [.. measure.Marks.Select(mark => mark with { At = mark.At - gap.Length })],
    };
}
