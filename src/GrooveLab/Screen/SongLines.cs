using GrooveLab.Audio.Conducting;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Performance;
using GrooveLab.Music.Time;

namespace GrooveLab.Screen;

/// <summary>A syllable of a word.</summary>
/// <param name="Text">The syllable, without a hyphen.</param>
/// <param name="At">Where it begins: the bar of the performance and the share of that bar that has passed.</param>
/// <param name="End">Where its last note ends.</param>
internal readonly record struct LineSyllable(string Text, double At, double End);

/// <summary>A whole word of a line.</summary>
/// <param name="Text">The word, its syllables joined.</param>
/// <param name="At">Where it is sung: the bar of the performance and the share of that bar that has passed.</param>
/// <param name="Bar">The bar of the line to which it belongs, from 0; a pickup belongs to the first.</param>
/// <param name="Syllables">Its syllables.</param>
internal sealed record LineWord(string Text, double At, int Bar, IReadOnlyList<LineSyllable> Syllables);

/// <summary>A bar of a line.</summary>
/// <param name="Ordinal">Which bar of the performance it is.</param>
/// <param name="Chords">The chords that begin in it, each with its place as in <see cref="LineWord.At"/>.</param>
internal sealed record LineBar(int Ordinal, IReadOnlyList<(string Text, double At)> Chords);

/// <summary>Some bars to read at once, as a line of a song sheet: a bar group of three to eight bars, otherwise four bars.</summary>
/// <param name="Section">The section.</param>
/// <param name="StartsSection">True for the first line of a section.</param>
/// <param name="Bars">The bars; empty for the end.</param>
/// <param name="Words">The words sung in them.</param>
internal sealed record SongLine(string Section, bool StartsSection, IReadOnlyList<LineBar> Bars, IReadOnlyList<LineWord> Words)
{
    /// <summary>The key, if it differs from that of the line before: "E dorian"; otherwise empty.</summary>
    public string NewKey { get; init; } = string.Empty;

    /// <summary>The section as it is announced, with its key if that changes.</summary>
    public string Announced => NewKey.Length == 0 ? Section : $"{Section}, {NewKey}";

    /// <summary>The words as a sentence.</summary>
    public string Sentence { get; } = string.Join(' ', Words.Select(word => word.Text));

    /// <summary>Whether it has a bar of the performance.</summary>
    public bool Has(int ordinal) => Bars.Count > 0 && ordinal >= Bars[0].Ordinal && ordinal <= Bars[^1].Ordinal;
}

/// <summary>Reads the chart ahead: the current line of words and chords and those that follow, as the band will play them.</summary>
internal static class SongLines
{
    private const int MostBars = 40;
    private const int FewestInGroup = 3;
    private const int MostInGroup = 8;
    private const int UsualBars = 4;

    /// <summary>The line of a bar, and the lines after it.</summary>
    /// <param name="conductor">The performance.</param>
    /// <param name="index">The bar in the form; negative for the lead-in.</param>
    /// <param name="ordinal">Which bar of the performance it is.</param>
    /// <param name="lines">How many lines at most.</param>
    /// <param name="voice">The line of the tune whose words are wanted; empty for the tune itself. Where it has no words, another has them.</param>
    /// <returns>The lines; the end is a line without bars.</returns>
    public static IReadOnlyList<SongLine> From(Conductor conductor, int index, int ordinal, int lines, string voice = "")
    {
        var route = conductor.RouteAhead;
        var plan = route.Plan;
        var found = new List<SongLine>();
        var builder = default(Builder);
        var key = default(Key);
        var (at, bar) = (ordinal, index);
        if (bar < 0)
        {
            bar = route.After(bar, at);
            at++;
        }
        else if (route.Has(bar))
        {
            var back = Back(plan.BarAt(bar));
            (at, bar) = (at - back, bar - back);
        }

        for (var steps = 0; steps < MostBars; steps++)
        {
            var isEnd = !route.Has(bar) || (conductor.State.Chart.Ending && bar == route.Source.End - 1);
            var place = isEnd ? null : plan.BarAt(bar);
            if (builder is null || place is null || builder.IsOver(place))
            {
                if (builder is not null)
                {
                    found.Add(builder.Made());
                }

                if (found.Count == lines)
                {
                    return found;
                }

                if (place is null)
                {
                    found.Add(new SongLine("the end", true, [], []));
                    return found;
                }

                builder = new Builder(place, plan, voice, key is { } before && before != place.Run.Key ? place.Run.Key.ToString() : string.Empty);
                key = place.Run.Key;
            }

            builder.Add(place!, at);

            // Bars already played are in order; later ones follow the route.
            var next = at < ordinal ? bar + 1 : conductor.JumpBefore(at + 1, ordinal) ?? route.After(bar, at);
            if (next < 0)
            {
                // A lead-in: the music starts again.
                break;
            }

            if (next == bar && at >= ordinal)
            {
                // Held, or a loop of one bar.
                break;
            }

            (at, bar) = (at + 1, next);
        }

        if (builder is not null && found.Count < lines)
        {
            found.Add(builder.Made());
        }

        return found;
    }

    // How many bars of its line come before it.
    private static int Back(BarPlace place) => place.GroupPlace.Size is >= FewestInGroup and <= MostInGroup
        ? Math.Min(place.IndexInRun, place.GroupPlace.Index)
        : place.IndexInRun % UsualBars;

    private sealed class Builder(BarPlace first, FormPlan plan, string voice, string newKey)
    {
        private readonly List<LineBar> _bars = [];
        private readonly List<LineWord> _words = [];
        private readonly List<LineSyllable> _word = [];
        private int _last = first.Index - 1;

        public bool IsOver(BarPlace place) =>
            _bars.Count > 0 && (place.Index != _last + 1 || place.Run.Number != first.Run.Number || Back(place) == 0);

        public void Add(BarPlace place, int ordinal)
        {
            _last = place.Index;
            var length = place.Length.Wholes.ToDouble();
            _bars.Add(new LineBar(ordinal, [.. place.Chords.Select(chord => (chord.Symbol.Text, ordinal + (chord.Onset.Wholes.ToDouble() / length)))]));
            if (Sung(place.Run.Section.Tune) is not { } tune)
            {
                return;
            }

            var verse = tune.Verses[place.Run.Verse % tune.Verses.Count];
            var from = place.Start - place.Run.Start;
            var end = from + place.Length;
            for (var note = 0; note < Math.Min(verse.Count, tune.Notes.Count); note++)
            {
                var onset = tune.Notes[note].Onset;
                var isPickup = onset < Span.Zero && place.IndexInRun == 0;
                if (verse[note] is { } syllable && (isPickup || (onset >= from && onset < end)))
                {
                    var last = tune.Notes[Math.Min(note + Math.Max(1, syllable.Notes), tune.Notes.Count) - 1];
                    Sing(syllable, ordinal + ((onset - from).Wholes.ToDouble() / length), At(place, ordinal, last.Onset + last.Length));
                }
            }
        }

        // The words of the wanted line, else of the tune, else of the first line that has any.
        private TuneVoice? Sung(Tune? tune) => tune is null
            ? null
            : tune.Lines.FirstOrDefault(line => line.Verses.Count > 0 && string.Equals(line.Name, voice, StringComparison.OrdinalIgnoreCase))
                ?? tune.Lines.Prepend(tune.Melody).FirstOrDefault(line => line.Verses.Any(verse => verse.Any(syllable => syllable is not null)));

        // A place in a run, as the bar of the performance and the share of it; bars may differ in length.
        private double At(BarPlace place, int ordinal, Span inRun)
        {
            var from = place.Start - place.Run.Start;
            while (inRun > from + place.Length && place.IndexInRun + 1 < place.Run.Bars)
            {
                from += place.Length;
                (place, ordinal) = (plan.BarAt(place.Index + 1), ordinal + 1);
            }

            return ordinal + ((inRun - from).Wholes.ToDouble() / place.Length.Wholes.ToDouble());
        }

        public SongLine Made()
        {
            EndWord();
            return new SongLine(first.Run.Section.Name, first.IndexInRun == 0, _bars, _words) { NewKey = newKey };
        }

        private void Sing(Syllable syllable, double at, double end)
        {
            if (syllable.Place is SyllablePlace.Single or SyllablePlace.Begin)
            {
                EndWord();
            }

            _word.Add(new LineSyllable(syllable.Text, at, end));
            if (syllable.Place is SyllablePlace.Single or SyllablePlace.End)
            {
                EndWord();
            }
        }

        private void EndWord()
        {
            if (_word.Count > 0)
            {
                var at = _word[0].At;
                var text = string.Concat(_word.Select(syllable => syllable.Text));
                _words.Add(new LineWord(text, at, Math.Max(0, _bars.FindIndex(bar => bar.Ordinal == (int)Math.Floor(at))), [.. _word]));
                _word.Clear();
            }
        }
    }
}
