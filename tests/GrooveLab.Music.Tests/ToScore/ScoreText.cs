using System.Globalization;
using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Tests.Charts;
using GrooveLab.Music.Time;
using GrooveLab.Music.ToScore;

namespace GrooveLab.Music.Tests.ToScore;

/// <summary>Scores of small charts, and their measures as a line of text: "A4:q. r8" is a dotted quarter and an eighth rest, "~" a tie to the next note,
/// "/3:2" a tuplet, "[", "-" and "]" the first beam, which begins, goes on and ends.</summary>
internal static class ScoreText
{
    /// <summary>The score of a chart whose tune has the given notes, in units of an eighth: onset, length, pitch.</summary>
    public static WrittenMusic Tune(string meter, int bars, params (Rational Onset, Rational Length, string Pitch)[] notes) => Of(Chart(meter, bars, notes));

    public static Chart Chart(string meter, int bars, params (Rational Onset, Rational Length, string Pitch)[] notes)
    {
        ChartBar[] made = [.. Enumerable.Range(0, bars).Select(_ => Sheet.Bar(meter))];
        var eighth = Span.Of(1, 8);
        var tune = Music.Charts.Tune.Of([.. notes.Select(note => new TuneNote(eighth * note.Onset, eighth * note.Length, Pitch.Parse(note.Pitch), []))], [], made);
        return Sheet.Chart(Sheet.Section("verse", made) with { Tune = tune }) with
        {
            Parts = [Players.Tune(new TuneSettings { Phrasing = false }), Players.Clicks()],
            Looseness = 0,
        };
    }

    public static WrittenMusic Of(Chart chart) => BandScore.Of(new BarComposer(chart), token: Xunit.TestContext.Current.CancellationToken);

    /// <summary>A measure of a part, its voices one after the other.</summary>
    public static string Line(this WrittenMusic score, int measure, int part = 0) => string.Join(" | ", score.Parts[part].Measures[measure].Voices.Select(Line));

    private static string Line(VoiceMeasure voice) => string.Join(' ', voice.Events.Select(Text));

    private static string Text(VoiceEvent one) => one switch
    {
        RestEvent { IsWholeMeasure: true } => "R",
        RestEvent rest => "r" + Value(rest.Value),
        NotesEvent { Grace: not null } grace => "(" + string.Join('+', grace.Notes.Select(Head)) + ":" + Value(grace.Value) + Beams(grace) + ")",
        NotesEvent notes => string.Join('+', notes.Notes.Select(Head)) + ":" + Value(notes.Value) + (notes.Notes[0].TiedTo is null ? "" : "~") + Beams(notes),
        _ => "gap",
    };

    private static string Head(WrittenNote note) => note.Pitch?.ToString() ?? "x";

    private static string Beams(NotesEvent notes) => notes.Beams.Count == 0 ? "" : notes.Beams[0] switch
    {
        Beam.Begin => "[",
        Beam.Continue => "-",
        _ => "]",
    };

    private static string Value(WrittenValue? value) => value is null ? "?" : (value.Unit.Base switch
    {
        NoteBase.Breve => "b",
        NoteBase.Whole => "w",
        NoteBase.Half => "h",
        NoteBase.Quarter => "q",
        var other => (1 << -(int)other).ToString(CultureInfo.InvariantCulture),
    }) + new string('.', value.Unit.Dots) + string.Concat(value.Tuplets.Select(tuplet => string.Create(CultureInfo.InvariantCulture, $"/{tuplet.Actual}:{tuplet.Normal}")));

    /// <summary>The accidentals of a measure of a part, "-" for none, in brackets for a reminder.</summary>
    public static string Accidentals(this WrittenMusic score, int measure, int part = 0) => string.Join(' ', score.Parts[part].Measures[measure].Voices[0].Events.OfType<NotesEvent>()
        .SelectMany(notes => notes.Notes)
        .Select(note => note.Accidental is not { } sign ? "-" : sign.IsCautionary == true ? $"({sign.Sign})" : sign.Sign));
}
