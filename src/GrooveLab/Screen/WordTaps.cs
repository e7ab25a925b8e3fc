using System.Globalization;
using GrooveLab.Audio.Conducting;
using GrooveLab.Audio.Playback;
using GrooveLab.Audio.Playback.Engine;
using GrooveLab.Music.Analysis;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Performance;
using GrooveLab.Music.Wording;

namespace GrooveLab.Screen;

/// <summary>What the screen shows while the rhythm of words is tapped.</summary>
/// <param name="Section">The section.</param>
/// <param name="Syllables">The syllables from the next one on; in brackets those of another verse, "~" for a syllable that is held on another
/// note, "." for a note without words.</param>
/// <param name="Count">How many taps the section needs.</param>
internal sealed record TapsToCome(string Section, IReadOnlyList<string> Syllables, int Count);

/// <summary>The rhythm of a section's words, tapped while the band plays: one tap for each note of its tune.</summary>
/// <param name="section">The name of the section.</param>
internal sealed class WordTaps(string section)
{
    private const int MostNamed = 3;

    private readonly List<GridTap> _taps = [];

    // The bar of the performance at which the tapped playing of the section begins.
    private int _first;
    private int _bars;
    private int _verse;
    private TapsToCome? _shown;
    private (int Taps, Chart? Chart, int Verse) _shownFor;

    /// <summary>The section's name.</summary>
    public string Section => section;

    /// <summary>Starts for the named section, or for the section at a bar of the form or the next one with a tune.</summary>
    /// <param name="named">The section's name; empty for none.</param>
    /// <param name="state">The current state.</param>
    /// <param name="bar">The bar in the form.</param>
    /// <param name="problem">Why it cannot be tapped; null if it can.</param>
    public static WordTaps? For(string named, PerformanceState state, int bar, out string? problem)
    {
        problem = null;
        var sections = state.Chart.Sections;
        if (named.Length > 0)
        {
            var asked = sections.FirstOrDefault(one => string.Equals(one.Name, named, StringComparison.OrdinalIgnoreCase));
            problem = asked is null ? Words.Unknown("section", named, sections.Select(one => one.Name))
                : NotesOf(asked) == 0 ? $"{asked.Name} has no tune; write its words or notes in the chart" : null;
            return problem is null ? new WordTaps(asked!.Name) : null;
        }

        var plan = state.Plan;
        for (var at = Math.Max(0, bar); at < Math.Max(0, bar) + plan.BarsInPass; at = plan.BarAt(at).Run.EndBar)
        {
            if (sections[plan.BarAt(at).Run.SectionIndex] is var one && NotesOf(one) > 0)
            {
                return new WordTaps(one.Name);
            }
        }

        problem = "no section has a tune; write words or notes in the chart";
        return null;
    }

    /// <summary>What remains to be tapped.</summary>
    public TapsToCome ToCome(PerformanceState state)
    {
        if (_shown is null || _shownFor != (_taps.Count, state.Chart, _verse))
        {
            var syllables = SyllablesOf(state);
            (_shown, _shownFor) = (new TapsToCome(section, [.. syllables.Skip(Begun)], syllables.Count), (_taps.Count, state.Chart, _verse));
        }

        return _shown;
    }

    /// <summary>Takes a tap, or says why it does not count.</summary>
    /// <param name="conductor">The performance.</param>
    /// <param name="heard">What was heard at the time of the tap.</param>
    /// <param name="endsNote">True to end the note with a rest.</param>
    public string? Tap(Conductor conductor, in Playhead heard, bool endsNote)
    {
        if (heard.Bar is not { } bar || heard.Tempo is not { } tempo)
        {
            return "the band does not play yet";
        }

        var notes = SyllablesOf(conductor.State).Count;
        if (endsNote ? _taps.Count == 0 || _taps[^1].EndsNote : Begun >= notes)
        {
            return endsNote ? "a rest follows a note" : "all syllables are tapped";
        }

        var plan = conductor.Sounding.Plan;
        var seconds = 60 / tempo.WholesPerMinute.ToDouble();
        var inBar = heard.WholesInBar;
        var place = bar.Index < 0 ? null : plan.BarAt(bar.Index);
        var isHere = place is not null && IsOurs(place, conductor.Sounding);
        if (!isHere || (_taps.Count == 0 && inBar > bar.Length.Wholes.ToDouble() / 2 && place!.IsLastOfRun))
        {
            // A pickup in the second half of the bar before.
            var next = conductor.JumpBefore(heard.Ordinal + 1, heard.Ordinal) ?? conductor.SoundingRoute.After(bar.Index, heard.Ordinal);
            if (next >= 0 && conductor.SoundingRoute.Has(next) && plan.BarAt(next) is { IndexInRun: 0 } first && IsOurs(first, conductor.Sounding))
            {
                var before = bar.Length.Wholes.ToDouble() - inBar;
                if (before > bar.Length.Wholes.ToDouble() / 2 && !isHere)
                {
                    return $"{section} begins at the next bar line";
                }

                if (_taps.Count == 0)
                {
                    Begin(first, heard.Ordinal + 1);
                }

                _taps.Add(new GridTap(-before, seconds, endsNote));
                return null;
            }

            if (!isHere)
            {
                return $"{section} does not play yet";
            }
        }

        if (_taps.Count == 0)
        {
            Begin(place!, heard.Ordinal - place!.IndexInRun);
        }

        if (place!.IndexInRun >= place.Run.EndingAt && place.Run.Ending > 0)
        {
            return $"the ending of {section} keeps its rhythm";
        }

        var at = (place.Start - place.Run.Start).Wholes.ToDouble() + inBar;
        if (_taps.Count > 0 && at <= _taps[^1].At)
        {
            return "too early";
        }

        _taps.Add(new GridTap(at, seconds, endsNote));
        return null;
    }

    /// <summary>Takes the last tap back; false if there is none.</summary>
    public bool TakeBack()
    {
        if (_taps.Count == 0)
        {
            return false;
        }

        _taps.RemoveAt(_taps.Count - 1);
        return true;
    }

    /// <summary>Whether the tapped playing of the section is over.</summary>
    public bool IsOver(in Playhead heard) => _taps.Count > 0
        && (heard.State > TransportState.Playing || heard.Ordinal >= _first + _bars || (heard.Ordinal >= _first && heard.Bar is { Index: >= 0 } bar && bar.Index != _firstBar + heard.Ordinal - _first));

    private int _firstBar;

    /// <summary>Writes the rhythm into the chart, or says why not; after that all taps are forgotten.</summary>
    /// <param name="conductor">The performance.</param>
    /// <returns>The answer; taken if the rhythm is written.</returns>
    public ChangeAnswer Finish(Conductor conductor)
    {
        var (taps, syllables) = (_taps.ToList(), SyllablesOf(conductor.State));
        var begun = Begun;
        _taps.Clear();
        if (begun < syllables.Count)
        {
            return new ChangeAnswer(false, $"{begun} of {syllables.Count} syllables tapped, nothing changed; tap them all in one playing of {section}");
        }

        var played = conductor.State.Chart.Sections.First(one => one.Name == section);
        if (TappedRhythm.Of(played, taps) is not { } rhythm)
        {
            return new ChangeAnswer(false, "some taps are too close together; nothing changed");
        }

        var answer = conductor.Do(rhythm.Change);
        return answer.Taken ? answer with { Says = $"{answer.Says}: {Report(rhythm, syllables)}" } : answer;
    }

    private int Begun => _taps.Count(tap => !tap.EndsNote);

    private bool IsOurs(BarPlace place, PerformanceState state) => state.Chart.Sections[place.Run.SectionIndex].Name == section;

    private void Begin(BarPlace first, int ordinal)
    {
        (_first, _bars, _verse) = (ordinal, first.Run.Ending > 0 ? first.Run.EndingAt : first.Run.Bars, first.Run.Verse);
        _firstBar = first.Run.FirstBar;
    }

    private static int NotesOf(Section one) => one.Tune?.Notes.Count ?? 0;

    private static string Report(TappedRhythm rhythm, IReadOnlyList<string> syllables)
    {
        var late = Milliseconds(Math.Abs(rhythm.Lateness));
        var unsure = rhythm.Unsure.Count == 0 ? string.Empty
            : $"; unsure: {string.Join(", ", rhythm.Unsure.Take(MostNamed).Select(note => string.Create(CultureInfo.InvariantCulture, $"{syllables[note]} ({note + 1})")))}"
                + (rhythm.Unsure.Count > MostNamed ? $" and {rhythm.Unsure.Count - MostNamed} more" : string.Empty);
        return $"taps {Milliseconds(rhythm.MeanError)} ms off on average, {Milliseconds(rhythm.LargestError)} at most"
            + (late == "0" ? string.Empty : $", {late} ms {(rhythm.Lateness > 0 ? "late" : "early")}") + unsure;
    }

    private static string Milliseconds(double seconds) => Math.Round(seconds * 1000).ToString("0", CultureInfo.InvariantCulture);

    private List<string> SyllablesOf(PerformanceState state)
    {
        var tune = state.Chart.Sections.FirstOrDefault(one => one.Name == section)?.Tune;
        var shown = new List<string>();
        if (tune is null)
        {
            return shown;
        }

        for (var note = 0; note < tune.Notes.Count; note++)
        {
            shown.Add(tune.Verses.Count == 0 ? "." : At(tune.Verses[_verse % tune.Verses.Count], note) is { } sung ? sung
                : tune.Verses.Select(verse => At(verse, note)).FirstOrDefault(other => other is not null and not "~") is { } other ? $"({other})" : ".");
        }

        return shown;

        static string? At(IReadOnlyList<Syllable?> verse, int note)
        {
            if (note < verse.Count && verse[note] is { } syllable)
            {
                return syllable.Text + (syllable.Place is SyllablePlace.Begin or SyllablePlace.Middle ? "-" : string.Empty);
            }

            for (var back = 1; back <= note; back++)
            {
                if (note - back < verse.Count && verse[note - back] is { } held)
                {
                    return held.Notes > back ? "~" : null;
                }
            }

            return null;
        }
    }
}
