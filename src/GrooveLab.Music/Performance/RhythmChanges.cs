using System.Text;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Performance;

/// <summary>Gives the notes of a section's tune another rhythm. Pitches, words, grace notes and marks stay with their notes; further lines and
/// endings stay as they are.</summary>
/// <param name="Section">The section's name.</param>
/// <param name="Rhythm">The lengths of notes, and of rests after "z", in whole notes: "| 1/8 z1/8 1/4", and with a pickup
/// of an eighth "pickup 1/8 | 1/8 1/4".</param>
public sealed record SetRhythm(string Section, string Rhythm) : StateChange
{
    private const string PickupWord = "pickup ";
    private const string Rest = "z";
    private const int Finest = 10_000;

    internal static ChangeForm Form { get; } = new("rhythm", "rhythm SECTION | 1/8 z1/8 1/4", "other lengths for the notes of its tune; z for a rest", (rest, state) =>
    {
        var section = state.Chart.Sections.Where(section => IsOf(section.Name, rest)).OrderByDescending(section => section.Name.Length).FirstOrDefault()
            ?? throw new ChangeRefusedException(ChangeWords.NoSectionBefore(rest, state, PickupWord.Trim()) ??
                $"give a section and the lengths of its notes: rhythm {state.Chart.Sections[0].Name} | 1/8 1/4; "
                + $"sections: {string.Join(", ", state.Chart.Sections.Select(section => section.Name))}");
        return new SetRhythm(section.Name, rest[section.Name.Length..].Trim());

        static bool IsOf(string name, string text) => text.StartsWith(name, StringComparison.OrdinalIgnoreCase)
            && text[name.Length..].TrimStart() is var left && (left.StartsWith('|') || left.StartsWith(PickupWord, StringComparison.OrdinalIgnoreCase));
    });

    /// <inheritdoc/>
    public override string Words => $"rhythm {Section} {Rhythm}";

    /// <summary>The change that puts notes at places.</summary>
    /// <param name="section">The section's name.</param>
    /// <param name="notes">The onset of each note from the section's first bar line, ascending, and its length; no overlaps.</param>
    public static SetRhythm Of(string section, IReadOnlyList<(Span Onset, Span Length)> notes)
    {
        var text = new StringBuilder();
        var at = notes.Count > 0 ? Span.Min(notes[0].Onset, Span.Zero) : Span.Zero;
        text.Append(at < Span.Zero ? $"{PickupWord}{(-at).Wholes} |" : "|");
        foreach (var (onset, length) in notes)
        {
            text.Append(onset > at ? $" {Rest}{(onset - at).Wholes}" : string.Empty).Append(' ').Append(length.Wholes);
            at = onset + length;
        }

        return new SetRhythm(section, text.ToString());
    }

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place)
    {
        var index = state.Chart.Sections.ToList().FindIndex(section => string.Equals(section.Name, Section, StringComparison.OrdinalIgnoreCase));
        if (index < 0)
        {
            throw new ChangeRefusedException(Wording.Words.Unknown("section", Section, state.Chart.Sections.Select(other => other.Name)));
        }

        var section = state.Chart.Sections[index];
        if (section.Tune is not { Notes.Count: > 0 } tune)
        {
            throw new ChangeRefusedException($"{section.Name} has no tune; write its notes or words in the chart");
        }

        var rhythm = Read();
        if (rhythm.Count != tune.Notes.Count)
        {
            throw new ChangeRefusedException(
                $"the tune of {section.Name} has {Wording.Words.Count(tune.Notes.Count, "note")}, the rhythm has {rhythm.Count}; give one length for each note");
        }

        var length = section.Bars.Aggregate(Span.Zero, (sum, bar) => sum + bar.Meter.Length);
        if (rhythm[^1].Onset + rhythm[^1].Length > length || rhythm[0].Onset <= -section.Bars[0].Meter.Length)
        {
            throw new ChangeRefusedException(
                $"the rhythm does not fit into the {Wording.Words.Count(section.Bars.Count, "bar")} of {section.Name} and a pickup shorter than a bar");
        }

        var chart = ChangeScope.With(state.Chart, index, other => other with { Tune = tune.InRhythm(rhythm, other.Bars) });
        RequireRoomForPickups(chart.Sections[index]);
        return new ChangeResult(state with { Chart = chart }, $"new rhythm in {section.Name}", ChangeMoment.BarLine);
    }

    private static void RequireRoomForPickups(Section section)
    {
        for (var ending = 1; ending <= section.Endings.Count; ending++)
        {
            try
            {
                _ = section.WithEnding(ending);
            }
            catch (ChartProblemException)
            {
                throw new ChangeRefusedException($"the rhythm leaves no rest for the pickup of ending {ending} of {section.Name}; end the last note before it");
            }
        }
    }

    private List<(Span Onset, Span Length)> Read()
    {
        var bar = Rhythm.IndexOf('|', StringComparison.Ordinal);
        var before = bar < 0 ? string.Empty : Rhythm[..bar].Trim();
        var isPickup = before.StartsWith(PickupWord, StringComparison.OrdinalIgnoreCase);
        if (bar < 0 || (before.Length > 0 && !isPickup) || Rhythm.IndexOf('|', bar + 1) >= 0)
        {
            throw new ChangeRefusedException(
                $"write one bar line before all lengths, such as 'rhythm {Section} | 1/8 1/4', or with a pickup 'rhythm {Section} pickup 1/8 | 1/8 1/4'");
        }

        var at = isPickup ? -LengthOf(before[PickupWord.Length..]) : Span.Zero;
        var notes = new List<(Span Onset, Span Length)>();
        foreach (var word in Rhythm[(bar + 1)..].Split(' ', StringSplitOptions.RemoveEmptyEntries))
        {
            var isRest = word.StartsWith(Rest, StringComparison.OrdinalIgnoreCase);
            var length = LengthOf(isRest ? word[Rest.Length..] : word);
            if (!isRest)
            {
                notes.Add((at, length));
            }

            at += length;
        }

        return notes;
    }

    private static Span LengthOf(string word) =>
        Rational.TryParse(word.Trim(), out var length) && length.Sign > 0 && length.Numerator <= Finest && length.Denominator <= Finest
            ? new Span(length)
            : throw new ChangeRefusedException($"{Wording.Words.Quote(word)} is not a length; write fractions of a whole note such as 1/8, rests as {Rest}1/8");
}
