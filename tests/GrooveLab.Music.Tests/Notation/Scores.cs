using GrooveLab.Music.Harmony;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Tests.Notation;

/// <summary>Makes small scores for the tests.</summary>
internal static class Scores
{
    public static readonly WrittenMeter FourFour = new(new MeterPair([4], 4));

    /// <summary>A note: "C4 1/4"; "~" after it ties it to the next, "~" before it to the previous note.</summary>
    public static NotesEvent Note(string text)
    {
        var words = text.Split(' ');
        var name = words[0].Trim('~');
        var length = Length(words[1].TrimEnd('~'));
        return new NotesEvent(
            [
                WrittenNote.Of(Pitch.Parse(name)) with
                {
                    TiedFrom = text.StartsWith('~') ? new TieEnd() : null,
                    TiedTo = text.EndsWith('~') ? new TieEnd() : null,
                },
            ],
            WrittenValue.TryFrom(length, out var value) ? value : null,
            value is null ? length : null);
    }

    public static NotesEvent Grace(string pitch, bool after = false) =>
        NotesEvent.OfGrace([WrittenNote.Of(Pitch.Parse(pitch))], new Grace { IsAfter = after }, new WrittenValue(NoteBase.Eighth));

    public static RestEvent Rest(string length) => new(WrittenValue.TryFrom(Length(length), out var value) ? value : null, Length(length));

    public static Span Length(string text) => Span.TryParse(text, out var length) ? length : throw new FormatException(text);

    /// <summary>A score of one part in which each measure has one voice.</summary>
    public static WrittenMusic OneVoice(params IReadOnlyList<VoiceEvent>[] measures) => Of(
        [.. measures.Select((_, index) => Measure(index + 1, index == 0 ? [new MeterMark(Span.Zero, FourFour)] : []))],
        [.. measures.Select(events => new PartMeasure { Voices = [new VoiceMeasure("1", [.. events])] })]);

    public static WrittenMusic Of(ValueList<Measure> measures, ValueList<PartMeasure> part) => new(measures, [new WrittenPart("P1", part)]);

    public static Measure Measure(int number, params MeasureMark[] marks) => new(number.ToString()) { Marks = [.. marks] };

    /// <summary>Measures from signs, one text each: "|:" and ":|" repeats, ":|x3", "[1,2" and "]" endings, "segno", "coda", "tocoda",
    /// "dc", "ds", "fine"; "tocoda=a" names it, "dc@2" applies in that pass.</summary>
    public static IReadOnlyList<Measure> Signs(params string[] measures) => [.. measures.Select((text, index) => Measure(index + 1, [.. Read(text)]))];

    private static IEnumerable<MeasureMark> Read(string text)
    {
        foreach (var word in text.Split(' ', StringSplitOptions.RemoveEmptyEntries))
        {
            var name = word.Contains('=') ? word[(word.IndexOf('=') + 1)..].Split('@')[0] : null;
            ValueList<int> passes = word.Contains('@') ? [int.Parse(word[(word.IndexOf('@') + 1)..])] : [];
            yield return word.Split('=', '@')[0] switch
            {
                "|:" => new RepeatMark(Span.Zero, BarlineSide.Left, true),
                ":|" => new RepeatMark(Span.Zero, BarlineSide.Right, false),
                ":|jump" => new RepeatMark(Span.Zero, BarlineSide.Right, false) { AfterJump = true },
                ":|inside" => new RepeatMark(Span.Zero, BarlineSide.Middle, false),
                "segno" => new JumpMark(Span.Zero, JumpKind.Segno) { Name = name },
                "coda" => new JumpMark(Span.Zero, JumpKind.Coda) { Name = name },
                "tocoda" => new JumpMark(Span.Zero, JumpKind.ToCoda) { Name = name, Passes = passes },
                "dc" => new JumpMark(Span.Zero, JumpKind.DaCapo) { Passes = passes },
                "ds" => new JumpMark(Span.Zero, JumpKind.DalSegno) { Name = name, Passes = passes },
                "fine" => new JumpMark(Span.Zero, JumpKind.Fine),
                "]" => new EndingMark(Span.Zero, BarlineSide.Right, EndingEdge.Stop, [1]),
                var times when times.StartsWith(":|x", StringComparison.Ordinal) =>
                    new RepeatMark(Span.Zero, BarlineSide.Right, false) { Times = int.Parse(times[3..]) },
                var ending when ending[0] == '[' =>
                    new EndingMark(Span.Zero, BarlineSide.Left, EndingEdge.Start, [.. ending[1..].Split(',').Select(int.Parse)]),
                var other => throw new FormatException(other),
            };
        }
    }
}
