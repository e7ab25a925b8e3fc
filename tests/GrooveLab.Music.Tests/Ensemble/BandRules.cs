using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Tests.Ensemble;

/// <summary>The rules for every bar that the band plays; each rule returns the places where it is broken. Common practice, no source,
/// unless a rule names one.</summary>
internal static class BandRules
{
    private static readonly Role[] Pitched = [Role.Pulse, Role.Roll, Role.Bass, Role.Sustain, Role.Tune];

    private static readonly Span Eighth = Span.Of(1, 8);

    public static IEnumerable<string> NotesAreSound(Played played)
    {
        foreach (var bar in played.Bars)
        {
            foreach (var note in bar.Notes)
            {
                var part = played.PartOf(note);
                if (note.Onset < Span.Zero || note.Onset >= bar.Length || note.Length <= Span.Zero)
                {
                    yield return Say(bar, note, "lies outside its bar or has no length");
                }

                if (note.Velocity is < 1 or > 127)
                {
                    yield return Say(bar, note, "has a velocity outside 1-127");
                }

                if (part.Role != note.Role || part.Instrument.Unpitched != note.Unpitched)
                {
                    yield return Say(bar, note, "is not of its part's kind");
                }

                if (note.Key < part.Instrument.Lowest || note.Key > part.Instrument.Highest)
                {
                    yield return Say(bar, note, $"is outside {part.Instrument.Name}'s {part.Instrument.Lowest}-{part.Instrument.Highest}");
                }

                if (note.String > 0
                    && (note.Key < part.Instrument.Strings[note.String - 1]
                        || note.Key > part.Instrument.Strings[note.String - 1] + part.Instrument.Frets))
                {
                    yield return Say(bar, note, "is not on its string");
                }
            }

            foreach (var control in bar.Controls)
            {
                if (control.Onset < Span.Zero || control.Onset >= bar.Length || control.Value is < 0 or > 127)
                {
                    yield return $"bar {bar.Index}: {control} is outside its bar or range";
                }
            }

            if (!bar.Notes.Select(note => note.Onset).SequenceEqual(bar.Notes.Select(note => note.Onset).Order()))
            {
                yield return $"bar {bar.Index}: notes are out of order";
            }
        }
    }

    public static IEnumerable<string> PulseStatesEveryUnit(Played played)
    {
        foreach (var bar in played.Form)
        {
            var seconds = bar.Tempi[0].Tempo.Seconds(bar.Meter.Unit).ToDouble();
            // No hand strikes units faster than 90 ms: then only every second or third of a group.
            var every = seconds < 0.09 ? (int)Math.Ceiling((0.09 / seconds) - 1e-9) : 1;
            var wanted = Enumerable.Range(0, bar.Meter.Units)
                .Where(unit => (unit - bar.Meter.GroupStartUnits[bar.Meter.GroupOf(unit)]) % every == 0)
                .Select(unit => bar.Meter.Unit * unit);
            var task = TaskOf(played, bar, Role.Pulse);
            if (task is PartTask.Rests or PartTask.Break)
            {
                continue;
            }

            // Fills and pickups add strokes between the units, and take none away.
            var onsets = bar.Notes.Where(note => note.Role == Role.Pulse).Select(note => note.Onset).Distinct().Order()
                .Where(onset => task is not (PartTask.Fill or PartTask.Pickup) || (onset / bar.Meter.Unit).IsInteger);
            if (!wanted.SequenceEqual(onsets))
            {
                yield return $"bar {bar.Index}: the pulse strikes at {string.Join(' ', onsets)}";
            }
        }
    }

    public static IEnumerable<string> PulseStrokesAreTheSameInEveryGroup(Played played)
    {
        foreach (var bar in played.Form)
        {
            var settings = (PulseSettings)played.Composer.Chart.Parts.Single(part => part.Role == Role.Pulse).Settings;
            var slow = bar.Tempi[0].Tempo.Seconds(bar.Meter.Unit) > new Rational(3, 10);
            foreach (var note in bar.Notes.Where(note => note.Role == Role.Pulse))
            {
                var unit = (int)(note.Onset / bar.Meter.Unit).Floor();
                var group = bar.Meter.GroupOf(unit);
                var inGroup = unit - bar.Meter.GroupStartUnits[group];
                var down = settings.Strokes switch
                {
                    StrokeOrder.Down => true,
                    StrokeOrder.Heavy when bar.Meter.GroupSizes[group] == 3 => inGroup < 2,
                    StrokeOrder.Alternate when slow => true,
                    _ => inGroup % 2 == 0,
                };
                // Before an upstroke between the units the hand goes down.
                down |= bar.Notes.Any(other => other.Part == note.Part && other.Onset == (bar.Meter.Unit * unit) + (bar.Meter.Unit / 2));
                down &= (note.Onset / bar.Meter.Unit).IsInteger;
                if (note.Stroke != (down ? Stroke.Down : Stroke.Up))
                {
                    yield return Say(bar, note, "is struck the wrong way");
                }

                if (note.Touch == Touch.Damped && note.Length > bar.Meter.Unit / 2)
                {
                    yield return Say(bar, note, "is damped and longer than half a unit");
                }
            }

            foreach (var chord in bar.Notes.Where(note => note.Role == Role.Pulse).GroupBy(note => note.Onset))
            {
                if (chord.Max(note => note.SpreadMicroseconds) - chord.Min(note => note.SpreadMicroseconds) > 40_000
                    || chord.Select(note => note.OffsetMicroseconds).Distinct().Count() > 1)
                {
                    yield return $"bar {bar.Index}: the stroke at {chord.Key} spreads too far or tears apart";
                }
            }
        }
    }

    // The arrangement may order a roll to rest, to thin out, to fill or to break off.
    private static bool RollsPlainly(Played played, Bar bar) => played.Composer.Chart.Parts
        .Select((part, index) => part.Role == Role.Roll ? bar.Tasks.Tasks[index] : PartTask.Plays)
        .All(task => task is PartTask.Plays or PartTask.Full or PartTask.High or PartTask.Pickup or PartTask.Fill);

    /// <summary>A roll has no gap: as written, each note lasts until the next, from the first bar line to the last.</summary>
    public static IEnumerable<string> RollIsUnbroken(Played played)
    {
        foreach (var bar in played.Form.Where(bar => RollsPlainly(played, bar)))
        {
            var at = Span.Zero;
            foreach (var note in bar.Notes.Where(note => note.Role == Role.Roll).DistinctBy(note => note.Onset))
            {
                if (note.Written.Onset != at)
                {
                    yield return Say(bar, note, $"should start at {at}");
                }

                if (note.Length <= Span.Zero)
                {
                    yield return Say(bar, note, "has no length");
                }

                at = note.Written.Onset + note.Written.Length;
            }

            if (at != bar.Length)
            {
                yield return $"bar {bar.Index}: the roll ends at {at} of {bar.Length}";
            }
        }
    }

    /// <summary>A note rings at least until the next one, and no longer than until its string, or without strings its key, is struck again,
    /// nor past the change to a chord that it does not belong to.</summary>
    public static IEnumerable<string> RollRingsUntilStruckAgain(Played played)
    {
        var notes = played.Of(Role.Roll).Where(sounded => sounded.Bar.Index >= 0).ToArray();
        for (var i = 0; i < notes.Length; i++)
        {
            var (from, to) = (notes[i].From, notes[i].From + notes[i].Note.Length);
            for (var j = i + 1; j < notes.Length && notes[j].From < to; j++)
            {
                if (notes[j].Note.Key == notes[i].Note.Key || (notes[i].Note.String > 0 && notes[j].Note.String == notes[i].Note.String))
                {
                    yield return Say(notes[i].Bar, notes[i].Note, $"rings over {notes[j].Note.Key} of bar {notes[j].Bar.Index}");
                }
            }

            var at = notes[i].Bar.Chords.Last(chord => chord.Onset <= notes[i].Note.Written.Onset).Symbol;
            foreach (var bar in played.Form.Where(bar => bar.Start + bar.Length > from && bar.Start < to))
            {
                foreach (var chord in bar.Chords.Where(chord => bar.Start + chord.Onset > from && bar.Start + chord.Onset < to))
                {
                    if (!chord.Symbol.Equals(at) && (chord.Symbol.IsNoChord || !chord.Symbol.Tones.Contains(notes[i].Note.Key)))
                    {
                        yield return Say(notes[i].Bar, notes[i].Note, $"rings into {chord.Symbol}");
                    }
                }
            }
        }
    }

    /// <summary>Only without ramps: the density is decided at the start of a bar group.</summary>
    public static IEnumerable<string> RollKeepsToItsStepAndTheHand(Played played)
    {
        var part = played.Composer.Chart.Parts.Single(part => part.Role == Role.Roll);
        foreach (var bar in played.Form)
        {
            var step = bar.Meter.Unit;
            while (step > Span.Of(1, 16))
            {
                step /= 2;
            }

            var limit = new Rational(part.Instrument.HandLimitMs, 1000);
            var tempo = bar.Tempi[0].Tempo;
            var roll = bar.Notes.Where(note => note.Role == Role.Roll).ToArray();
            if (TaskOf(played, bar, Role.Roll) is PartTask.Rests or PartTask.Break or PartTask.OffBeats or PartTask.Thin)
            {
                continue;
            }

            if (tempo.Seconds(step) >= limit * new Rational(105, 100))
            {
                foreach (var note in roll.Where(note => note.Written.Length != step))
                {
                    yield return Say(bar, note, $"should last a step of {step}");
                }

                continue;
            }

            foreach (var note in roll)
            {
                var unit = (int)(note.Onset / bar.Meter.Unit).Floor();
                var group = bar.Meter.GroupOf(unit);
                var whole = note.Onset == bar.Meter.Unit * bar.Meter.GroupStartUnits[group]
                    && note.Written.Length == bar.Meter.Unit * bar.Meter.GroupSizes[group];
                if (!whole && tempo.Seconds(note.Written.Length) < limit * new Rational(70, 100))
                {
                    yield return Say(bar, note, $"comes faster than the hand: {tempo.Seconds(note.Written.Length).ToDouble() * 1000:0} ms");
                }
            }

            // Every group starts with its own note.
            foreach (var start in bar.Meter.GroupStartUnits.Where(start => roll.All(note => note.Onset != bar.Meter.Unit * start)))
            {
                yield return $"bar {bar.Index}: no note of the roll on unit {start}, where a group starts";
            }

            if (roll.Any(note => note.Written.Length != step) && bar.Remarks.Count == 0)
            {
                yield return $"bar {bar.Index}: the roll is thinned and nobody says so";
            }
        }
    }

    /// <summary>Pairs of roll notes that are consecutive in one run.</summary>
    public static IEnumerable<(Sounded A, Sounded B)> RollPairs(Played played)
    {
        Sounded? before = null;
        foreach (var sounded in played.Of(Role.Roll).Where(sounded => sounded.Bar.Index >= 0 && !sounded.Bar.IsEnding))
        {
            if (before is { } together && together.From == sounded.From)
            {
                continue;
            }

            if (before is { } last && RunOf(played, last.Bar) == RunOf(played, sounded.Bar))
            {
                yield return (last, sounded);
            }

            before = sounded;
        }
    }

    public static IEnumerable<string> NoFingerTwice(Played played) => RollPairs(played)
        .Where(pair => pair.A.Note.Finger is not null && pair.A.Note.Finger == pair.B.Note.Finger)
        .Select(pair => Say(pair.B.Bar, pair.B.Note, $"is played by the {pair.B.Note.Finger} like the note before"));

    public static IEnumerable<string> NoStringTwice(Played played) => RollPairs(played)
        .Where(pair => played.PartOf(pair.A.Note).Instrument.Technique == Technique.Fingers
            && pair.A.Note.String > 0 && pair.A.Note.String == pair.B.Note.String)
        .Select(pair => Say(pair.B.Bar, pair.B.Note, $"is on string {pair.B.Note.String} like the note before at {pair.A.Note.Onset} of bar {pair.A.Bar.Index}"));

    public static IEnumerable<string> HandsAlternate(Played played) => RollPairs(played)
        .Where(pair => played.PartOf(pair.A.Note).Instrument.Technique is Technique.Hammers or Technique.Plectrum
            && (pair.A.Note.Stroke == pair.B.Note.Stroke || pair.B.Note.Stroke == Stroke.None))
        .Select(pair => Say(pair.B.Bar, pair.B.Note, "is struck by the same hand or the same way as the note before"));

    public static IEnumerable<string> BassHasTheWrittenBassOnDownbeats(Played played)
    {
        var before = Eighth;
        foreach (var bar in played.Form)
        {
            // Bars shorter than an eighth do not always have room for two notes.
            var crowded = before < Eighth || bar.Length < Eighth;
            before = bar.Length;
            if (crowded)
            {
                continue;
            }

            var chord = bar.Chords[0].Symbol;
            var marks = bar.Notes.Where(note => note.Role == Role.Bass && note.Onset == Span.Zero).ToArray();
            if (chord.IsNoChord ? marks.Length > 0 : marks.Length != 1 || marks[0].Key % 12 != chord.Bass.PitchClass)
            {
                yield return $"bar {bar.Index}: the bass has {string.Join(' ', marks.Select(note => note.Key))} under {chord}";
            }
        }
    }

    public static IEnumerable<string> BassIsSparseAndInItsRegister(Played played)
    {
        Sounded? before = null;
        foreach (var sounded in played.Of(Role.Bass))
        {
            var part = played.PartOf(sounded.Note);
            if (sounded.Note.Key < part.Lowest || sounded.Note.Key > part.Highest)
            {
                yield return Say(sounded.Bar, sounded.Note, "is out of its register");
            }

            if (before is { } last && sounded.From - last.From < Eighth && !sounded.Bar.IsEnding)
            {
                yield return Say(sounded.Bar, sounded.Note, $"comes {sounded.From - last.From} after the one before");
            }

            if (before is { } held && held.To > sounded.From)
            {
                yield return Say(sounded.Bar, sounded.Note, "starts before the one before has ended");
            }

            before = sounded;
        }
    }

    public static IEnumerable<string> BassPlaysChordTones(Played played)
    {
        foreach (var bar in played.Form)
        {
            foreach (var note in bar.Notes.Where(note => note.Role == Role.Bass))
            {
                var chord = bar.Chords.Last(span => span.Onset <= note.Onset).Symbol;
                var unit = note.Onset / bar.Meter.Unit;
                // The step to the next root is on the last unit at least an eighth before the bar line, whatever starts there.
                var leads = note.Onset > Span.Zero && bar.Length - note.Onset < Eighth + bar.Meter.Unit;
                var onGroup = unit.IsInteger && bar.Meter.GroupStartUnits.Contains((int)unit.Numerator) && !leads;
                if (chord.IsNoChord || (onGroup && !chord.Tones.Contains(note.Key) && note.Key % 12 != chord.Bass.PitchClass))
                {
                    yield return Say(bar, note, $"does not belong to {chord}");
                }
            }
        }
    }

    /// <summary>Only without ramps, so that seconds follow from the bar's tempo.</summary>
    public static IEnumerable<string> BowsEndInSixSeconds(Played played)
    {
        foreach (var sounded in played.Of(Role.Sustain).Where(sounded => !sounded.Bar.IsEnding))
        {
            var settings = (SustainSettings)played.PartOf(sounded.Note).Settings;
            var seconds = Seconds(played, sounded);
            var unit = sounded.Bar.Tempi[0].Tempo.Seconds(sounded.Bar.Meter.Unit).ToDouble();
            var late = settings.LaidBack == LayBack.None ? 0 : unit;
            if (seconds > Math.Max(6, unit) + late + 1e-9)
            {
                yield return Say(sounded.Bar, sounded.Note, $"holds for {seconds:0.00} s");
            }
        }
    }

    public static IEnumerable<string> CountClicksOnTheFeltBeats(Played played)
    {
        foreach (var bar in played.Form)
        {
            var clicks = bar.Notes.Where(note => note.Role == Role.Count).ToArray();
            if (!clicks.Select(note => note.Onset).SequenceEqual(bar.Felt.BeatsIn(bar.Meter, bar.GroupPlace)))
            {
                yield return $"bar {bar.Index}: clicks at {string.Join(' ', clicks.Select(note => note.Onset))}, felt as {bar.Felt.Name()}";
            }

            foreach (var note in clicks.Where(note => note.OffsetMicroseconds != 0 || note.SpreadMicroseconds != 0))
            {
                yield return Say(bar, note, "is not exact");
            }
        }
    }

    public static IEnumerable<string> ClearOfTheTune(Played played, Role role)
    {
        foreach (var (a, b) in played.Together(role, Role.Tune))
        {
            if (Math.Abs(a.Note.Key - b.Note.Key) <= 2 && !a.Bar.IsEnding && !b.Bar.IsEnding && a.Bar.Index >= 0 && b.Bar.Index >= 0)
            {
                yield return Both(a, b, "rub");
            }
        }
    }

    public static IEnumerable<string> NoCloseIntervalsBelow(Played played, params Role[] roles)
    {
        foreach (var (a, b) in played.Together(roles))
        {
            var apart = Math.Abs(a.Note.Key - b.Note.Key);
            if (apart is > 0 and < 5 && Math.Min(a.Note.Key, b.Note.Key) < 48)
            {
                yield return Both(a, b, "are too close so low");
            }
        }
    }

    /// <summary>The full chords of a guitar may double a note of the sustain.</summary>
    public static IEnumerable<string> NoKeyHeldTwice(Played played, params Role[] roles)
    {
        bool IsGuitarChord(Sounded sounded) => sounded.Note.Role == Role.Pulse && played.PartOf(sounded.Note).Instrument.Strings.Count >= 5;
        foreach (var (a, b) in played.Together(roles))
        {
            if (a.Note.Key == b.Note.Key && !(IsGuitarChord(a) && b.Note.Role == Role.Sustain) && !(IsGuitarChord(b) && a.Note.Role == Role.Sustain))
            {
                yield return Both(a, b, "hold the same key");
            }
        }
    }

    /// <summary>What the arrangement asks in a bar of the first part of a role.</summary>
    private static PartTask TaskOf(Played played, Bar bar, Role role)
    {
        var part = played.Composer.Chart.Parts.ToList().FindIndex(part => part.Role == role);
        return bar.Tasks is { } tasks && part >= 0 && part < tasks.Tasks.Count ? tasks.Tasks[part] : PartTask.Plays;
    }

    public static IEnumerable<string> EndingIsOneDownbeat(Played played)
    {
        var ending = played.Bars[^1];
        if (!ending.IsEnding || ending.Index != played.Plan.Bars || ending.Start != played.Bars[^2].End)
        {
            yield return "the last bar is not the ending";
        }

        foreach (var note in ending.Notes)
        {
            if (note.Onset != Span.Zero || note.Length != ending.Length)
            {
                yield return Say(ending, note, "is not one ringing downbeat");
            }
        }

        foreach (var role in Pitched.Where(role => role != Role.Tune))
        {
            if (ending.Notes.All(note => note.Role != role))
            {
                yield return $"the {role.Name()} is missing from the ending";
            }
        }

        if (ending.Notes.Count(note => note.Role == Role.Roll) != 1)
        {
            yield return "the roll does not end on one note";
        }

        foreach (var sounded in played.Notes.Where(sounded => !sounded.Bar.IsEnding && sounded.To > ending.Start))
        {
            yield return Say(sounded.Bar, sounded.Note, "sounds on over the last downbeat");
        }

        foreach (var note in ending.Notes.Where(note => note.Role != Role.Count && !ending.Chords[0].Symbol.Tones.Contains(note.Key)))
        {
            yield return Say(ending, note, $"does not belong to {ending.Chords[0].Symbol}");
        }
    }

    public static IEnumerable<string> LeadInCountsTheBandIn(Played played)
    {
        var lead = played.Bars[0];
        var tempo = lead.Tempi[0].Tempo;
        var clicks = lead.Notes.Where(note => note.Role == Role.Count).ToArray();
        if (lead.Index != -1 || lead.End != Position.Zero)
        {
            yield return $"the lead-in ends at {lead.End}";
        }

        var first = clicks[0].Onset;
        var count = lead.Length - first;
        if (clicks.Length < 4 || tempo.Seconds(count) < 3 || count < lead.Meter.Length * 2)
        {
            yield return $"the count has {clicks.Length} clicks in {tempo.Seconds(count).ToDouble():0.00} s and {count / lead.Meter.Length} bars";
        }

        var lastBar = lead.Length - lead.Meter.Length;
        var shown = clicks.Where(note => note.Onset >= lastBar).Select(note => note.Onset - lastBar);
        var quick = tempo.Seconds(lead.Meter.Unit) < new Rational(1, 5);
        var levels = quick ? new[] { FeltLevel.Group, FeltLevel.Bar } : [FeltLevel.Unit];
        if (!levels.Any(level => shown.SequenceEqual(level.BeatsIn(lead.Meter, new BarGroupPlace(0, 0, 1)))))
        {
            yield return "the last bar of the count does not show every unit, or the felt beats of quick units";
        }

        foreach (var note in lead.Notes.Where(note => note.Role is Role.Pulse or Role.Bass))
        {
            if (note.Onset != Span.Zero || note.End > first)
            {
                yield return Say(lead, note, "is no chord before the count");
            }
        }

        var tune = played.Composer.Chart.Sections[0].Tune;
        var sung = lead.Notes.Where(note => note.Role == Role.Tune && note.SpreadMicroseconds == 0).ToArray();
        var pickup = tune?.Notes.Where(note => note.Onset < Span.Zero).ToArray() ?? [];
        // A pickup longer than the whole section before it replaces that section's tune entirely.
        var sections = played.Composer.Chart.Sections;
        var length = sections[0].Bars.Aggregate(Span.Zero, (sum, bar) => sum + bar.Meter.Length);
        var swallowed = sections.Any(section => section.Tune?.PickupLength >= length);
        if (!swallowed && tune is { Notes.Count: > 0 } && (sung.Length == 0 || sung[0].Key != tune.Notes[0].Pitch.Midi || sung[0].End > first))
        {
            yield return "the starting note does not come before the count";
        }

        if (!sung.Skip(1).Select(note => (note.Onset, note.Key)).SequenceEqual(pickup.Select(note => (lead.Length + note.Onset, note.Pitch.Midi))))
        {
            yield return "the pickup does not sound inside the lead-in";
        }

        if (lead.Notes.Any(note => note.OffsetMicroseconds != 0))
        {
            yield return "the lead-in is not exact";
        }
    }

    public static int RunOf(Played played, Bar bar) => played.Plan.BarAt(bar.Index).Run.Number;

    /// <summary>The length of a note in seconds, following the tempi of the bars that it reaches.</summary>
    public static double Seconds(Played played, Sounded sounded)
    {
        var seconds = 0.0;
        foreach (var bar in played.Bars.Where(bar => bar.Start < sounded.To && bar.End > sounded.From))
        {
            for (var i = 0; i < bar.Tempi.Count; i++)
            {
                var from = bar.Start + bar.Tempi[i].Onset;
                var to = i + 1 < bar.Tempi.Count ? bar.Start + bar.Tempi[i + 1].Onset : bar.End;
                var start = from > sounded.From ? from : sounded.From;
                var end = to < sounded.To ? to : sounded.To;
                if (end > start)
                {
                    seconds += bar.Tempi[i].Tempo.Seconds(end - start).ToDouble();
                }
            }
        }

        return seconds;
    }

    private static string Say(Bar bar, NoteEvent note, string what) =>
        $"bar {bar.Index}: {note.Role.Name()} {note.Key} at {note.Onset} for {note.Length} {what}";

    private static string Both(Sounded a, Sounded b, string what) =>
        $"bar {b.Bar.Index}: {a.Note.Role.Name()} {a.Note.Key} from {a.From} to {a.To} and {b.Note.Role.Name()} {b.Note.Key} from {b.From} to {b.To} {what}";
}
