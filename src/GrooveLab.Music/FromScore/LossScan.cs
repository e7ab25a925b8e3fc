using System.Text;
using System.Text.RegularExpressions;
using GrooveLab.Music.Notation;

namespace GrooveLab.Music.FromScore;

/// <summary>Lists what a score has beside the lines that a chart takes over.</summary>
internal static partial class LossScan
{
    private const string NoTempoReached = "the score gives no tempo to reach, so the tempo stays; write one in the section, such as tempo = \"to quarter = 80 over the last 2 bars\"";

    [GeneratedRegex(
        @"^\W*((un )?poco|molto|sempre|più|piu)?\W*(a poco)?\W*(rit|ritard|ritardando|rall|rallent|rallentando|accel|accelerando|allargando|stringendo|slowing|slow down|cédez|pressez|retenez|animez|en (pressant|retenant|cédant|animant|élargissant|serrant)|allmählich|nach und nach (schneller|langsamer)|zögernd|zurückhaltend|eilend|beschleunigend)\b",
        RegexOptions.CultureInvariant | RegexOptions.IgnoreCase | RegexOptions.ExplicitCapture | RegexOptions.NonBacktracking)]
    private static partial Regex GradualTempo();

    /// <summary>True for words that ask for a gradual change of tempo.</summary>
    public static bool IsGradualTempo(string text) => GradualTempo().IsMatch(text);

    /// <summary>Adds everything that no chart has: other parts and voices, words for players, other signs.</summary>
    public static void Add(WrittenMusic music, IReadOnlyList<ScoreLine> lines, LossList losses)
    {
        for (var p = 0; p < music.Parts.Count; p++)
        {
            var part = music.Parts[p];
            var name = part.Name.Length > 0 ? part.Name : part.Id;
            var isTune = lines.Any(line => line.Part == p);
            for (var m = 0; m < music.Measures.Count; m++)
            {
                var measure = music.Measures[m];
                foreach (var voice in part.Measures[m].Voices.Where(voice => !lines.Any(line => line.Part == p && line.Voice == voice.Name)))
                {
                    foreach (var notes in voice.Events.OfType<NotesEvent>())
                    {
                        losses.Add(isTune ? $"notes of voice {voice.Name} of {name}" : $"notes of {name}", string.Empty, null, notes.Origin, notes);
                    }
                }

                foreach (var placed in part.Measures[m].Marks.Where(placed => placed.Mark.Edge is MarkEdge.Single or MarkEdge.Start))
                {
                    var isDynamic = placed.Mark.Kind is MarkKind.Dynamics or MarkKind.Wedge;
                    var isName = placed.Mark is { Kind: MarkKind.Words, Text: { } text } && PlayedScoreReader.IsSectionName(text);
                    if (placed.Mark is { Kind: MarkKind.Words, Text: { } gradual } && IsGradualTempo(gradual))
                    {
                        AddGradual(gradual, measure, null, placed, losses);
                    }
                    else if (!isName && (!isDynamic || !isTune))
                    {
                        losses.Add(isTune ? NameOf(placed.Mark) : $"{NameOf(placed.Mark)} of {name}", string.Empty, measure, null, placed);
                    }
                }
            }
        }

        for (var m = 0; m < music.Measures.Count; m++)
        {
            foreach (var mark in music.Measures[m].Marks)
            {
                Add(mark, music, m, losses);
            }

            foreach (var remark in music.Measures[m].Annotations)
            {
                losses.Add($"remark: {remark.Text}", string.Empty, music.Measures[m], null, remark);
            }
        }

        foreach (var remark in music.Annotations)
        {
            losses.Add($"remark: {remark.Text}", string.Empty, null, null, remark);
        }
    }

    /// <summary>The name of a mark as a musician says it.</summary>
    public static string NameOf(Mark mark) => mark.Kind switch
    {
        MarkKind.Words => $"words: {mark.Text}",
        MarkKind.Wedge => "hairpin",
        MarkKind.Dynamics => $"dynamic {mark.Text}",
        MarkKind.Slur => "slur",
        MarkKind.SoundSetting => $"sound setting {mark.Text}",
        var kind => Spaced(kind.ToString()),
    };

    private static void Add(MeasureMark mark, WrittenMusic music, int m, LossList losses)
    {
        var measure = music.Measures[m];
        switch (mark)
        {
            case BarlineSign sign:
                losses.Add($"{NameOf(sign.Mark)} over a bar line", string.Empty, measure, mark.Origin, mark);
                break;
            case WordsMark words when IsGradualTempo(words.Text):
                AddGradual(words.Text, measure, mark.Origin, mark, losses);
                break;
            case TempoSign { Words.Count: > 0, Tempo: null } tempo when IsGradualTempo(string.Join(' ', tempo.Words)):
                AddGradual(string.Join(' ', tempo.Words), measure, mark.Origin, mark, losses);
                break;
            case WordsMark words when !PlayedScoreReader.IsSectionName(words.Text):
                losses.Add($"words: {words.Text}", string.Empty, measure, mark.Origin, mark);
                break;
            case TempoSign { Words.Count: > 0 } tempo:
                losses.Add($"words: {string.Join(' ', tempo.Words)}", string.Empty, measure, mark.Origin, mark);
                break;
            case MeterMark { Where.Count: > 0 } own when own.Where.Any(place => place.Part.Length > 0) && !ReferenceEquals(measure.Meter, own.Meter):
                losses.Add($"meter {own.Meter} of one part", "the meter of the others is kept", measure, mark.Origin, mark);
                break;
            case MeterMark { Meter.Interchangeable: { } other }:
                losses.Add($"alternative meter {other}", string.Empty, measure, mark.Origin, mark);
                break;
            case KeyMark { Key.Accidentals.Count: > 0 }:
                losses.Add("key signature with its own accidentals", "the nearest usual key", measure, mark.Origin, mark);
                break;
        }

        if (mark is TempoSign { Swing: not null })
        {
            losses.Add("swing", string.Empty, measure, mark.Origin, mark);
        }

        if (mark is TempoSign sign2 && sign2.Metronomes.Any(one => one.SameAs is not null))
        {
            losses.Add("equation of two note values", "the tempo stays as it is", measure, mark.Origin, sign2.Metronomes);
        }
    }

    private static void AddGradual(string words, Measure measure, Origin? place, object key, LossList losses) =>
        losses.Add($"gradual change of tempo: {words.Trim()}", NoTempoReached, measure, place, key);

    private static string Spaced(string name)
    {
        var text = new StringBuilder();
        foreach (var letter in name)
        {
            text.Append(char.IsUpper(letter) && text.Length > 0 ? " " : string.Empty).Append(char.ToLowerInvariant(letter));
        }

        return text.ToString();
    }
}
