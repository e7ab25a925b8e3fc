using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Ensemble;

/// <summary>A note of a bass line.</summary>
/// <param name="Note">Its pitch and place.</param>
/// <param name="Value">Its value on paper: up to the next attack, or to a chord to which it does not belong.</param>
/// <param name="Pitch">Its spelling.</param>
internal readonly record struct BassNote(LineNote Note, Span Value, Pitch Pitch);

/// <summary>The bass of one playing of a section: the chord's written bass on downbeats and chord changes, chord tones on other group
/// starts, steps into new roots, and lines of steps into sections and bar groups. Sparse: attacks are at least an eighth apart.</summary>
/// <remarks>The written basses are the same at each playing. What comes between two of them is decided bar by bar and depends on nothing
/// else, so that a bar can vary without its neighbours. Common practice, no source.</remarks>
internal sealed class BassLine
{
    public const int BaseVelocity = 80;

    /// <summary>Shares of roots between which the tones of other marks are free. Common practice, no source.</summary>
    private const double FewRoots = 0.56, ManyRoots = 0.62;

    /// <summary>Share of inner group starts marked when groups are felt. Common practice, no source.</summary>
    private const double MarkedStarts = 0.94;

    /// <summary>Share of approaches into section starts. Common practice, no source.</summary>
    private const double SectionApproaches = 0.9;

    private const int Octave = 12;

    /// <summary>The share of bar groups without room for a line that have one through their written basses. Common practice, no source.</summary>
    private const double ThroughShare = 0.75;

    /// <summary>Half steps by which a root a fourth away is preferred at the start of a bar group: a line of steps fills a fourth in a bar of three.
    /// Common practice, no source.</summary>
    private const double ReachedByLine = 3;

    /// <summary>The share of lines into bar groups that are played where they are possible and none was lately, in music that moves; half of it in
    /// music of one chord. Common practice, no source.</summary>
    private const double OftenLed = 0.75;

    /// <summary>Bars between two lines of steps: at least, in full playing, and at most. Common practice, no source.</summary>
    private const int FewBars = 4, FewBarsWhenFull = 2, ManyBars = 7;

    /// <summary>Attempts to play a bar otherwise.</summary>
    private const int Attempts = 8;

    private static readonly Span Eighth = Span.Of(1, 8);

    private readonly RunOutline _outline;
    private readonly Part _part;
    private readonly int _index;
    private readonly BassSettings _settings;
    private readonly RunPlaying _playing;
    private readonly bool _leadsOn;
    private readonly bool _moves;
    private readonly List<Attack>[] _written;
    private readonly IReadOnlyList<(Span Offset, int Key)>?[] _lines;

    private BassLine(RunOutline outline, Part player, int part, RunPlaying playing, bool leadsOn)
    {
        _outline = outline;
        _part = player;
        _index = part;
        _settings = (BassSettings)player.Settings;
        _playing = playing;
        _leadsOn = leadsOn;
        _moves = outline.Chords.Any(chord => !chord.Symbol.Equals(outline.Chords[0].Symbol));
        _written = WrittenBasses();
        // Backwards: a line may change the goal of one before it.
        _lines = new IReadOnlyList<(Span Offset, int Key)>?[outline.Places.Length];
        for (var bar = _lines.Length - 1; bar >= 0; bar--)
        {
            _lines[bar] = LineThroughWritten(bar);
        }
    }

    // The first root is in the lower third of the register.
    private int Home => _part.Lowest + ((_part.Highest - _part.Lowest) / 3);

    public static IReadOnlyList<BassNote> For(RunOutline outline, Part player, int part, RunPlaying playing, bool leadsOn)
    {
        var line = new BassLine(outline, player, part, playing, leadsOn);
        return line.Sounded(line.Attacks());
    }

    private List<Attack> Attacks()
    {
        // First the bars as they would be without an arrangement: they say how much the bass has led and left its roots before each bar.
        var balance = new Balance { SinceLine = FewBars };
        var attacks = new List<Attack>();
        for (var bar = 0; bar < _outline.Places.Length; bar++)
        {
            var plain = Between(bar, PartTask.Plays, _playing.SectionChance(_index).For("bass").At(bar), balance);
            var task = _playing.TaskOf(_index, bar);
            var varied = _playing.IsVaried(_index, bar);
            var written = Shifted(bar);
            var between = task == PartTask.Plays ? plain : Between(bar, task, _playing.SectionChance(_index).For("bass").At(bar), balance);
            if (varied && task is not (PartTask.Break or PartTask.Rests) && written is [{ Key: { } key } first, ..])
            {
                var usual = between;
                between = Otherwise(bar, task, balance, usual);
                if (Same(between, usual))
                {
                    // Where the bar has only its written bass, the bass takes it in another octave.
                    var free = between.Count == 0 && (bar == 0 || attacks is not [.., { Leads: true }]);
                    var other = free ? OtherOctave(key) : key;
                    written = [first with { Key = other, Short = other == key }, .. written[1..]];
                }
            }

            balance = After(bar, balance, plain);
            attacks.AddRange(task == PartTask.Break ? written[..1] : [.. written.Concat(between).OrderBy(attack => attack.Onset)]);
        }

        return attacks;
    }

    private List<Attack> Otherwise(int bar, PartTask task, Balance balance, List<Attack> usual)
    {
        var chance = _playing.PlayingChance(_index).For("bass").At(bar);
        for (var attempt = 0; attempt < Attempts; attempt++)
        {
            // Where little is free, one more mark.
            var between = Between(bar, attempt < Attempts / 2 || task != PartTask.Plays ? task : PartTask.Full, chance.At(attempt), balance);
            if (!Same(between, usual))
            {
                return between;
            }
        }

        return usual;
    }

    private static bool Same(List<Attack> one, List<Attack> other) =>
        one.Select(attack => (attack.Onset, attack.Key)).SequenceEqual(other.Select(attack => (attack.Onset, attack.Key)));

    private int OtherOctave(int key) => key + Octave <= _part.Highest ? key + Octave : key - Octave >= _part.Lowest ? key - Octave : key;

    // The written basses of each bar: on the bar line and at each change of chord; with the feel on bar groups, only on bar lines.
    private List<Attack>[] WrittenBasses()
    {
        var bars = new List<Attack>[_outline.Places.Length];
        var before = Home;
        Span? last = null;
        for (var bar = 0; bar < bars.Length; bar++)
        {
            var place = _outline.Places[bar];
            bars[bar] = [];
            foreach (var chord in place.Chords)
            {
                var at = _outline.OnsetOf(bar) + chord.Onset;
                if ((chord.Onset > Span.Zero && (place.Felt == FeltLevel.BarGroup || place.Length - chord.Onset < Eighth))
                    || at - last < Eighth || (_leadsOn && _outline.Length - at < Eighth))
                {
                    continue;
                }

                int? key = chord.Symbol.IsNoChord ? null : Near(chord.Symbol.Bass.PitchClass, before, place.GroupPlace.Index == 0 && chord.Onset == Span.Zero ? ReachedByLine : 0);
                bars[bar].Add(new Attack(at, key, AccentAt(place, chord.Onset), place.Felt));
                before = key ?? before;
                last = at;
            }
        }

        return bars;
    }

    private Attack[] Shifted(int bar) => _playing.TaskOf(_index, bar) == PartTask.High
        ? [.. _written[bar].Select(attack => attack.Key + 12 <= _part.Highest ? attack with { Key = attack.Key + 12 } : attack)]
        : [.. _written[bar]];

    // The written bass to which a bar leads; null for none.
    private int? GoalAfter(int bar)
    {
        if (bar + 1 < _outline.Places.Length)
        {
            return Shifted(bar + 1) is [var first, ..] && first.Onset == _outline.OnsetOf(bar + 1) ? first.Key : null;
        }

        return _leadsOn && !_outline.NextChord.IsNoChord ? Near(_outline.NextChord.Bass.PitchClass, Home) : null;
    }

    private ChordSymbol? ChordAfter(int bar) => bar + 1 < _outline.Places.Length ? _outline.Places[bar + 1].Chords[0].Symbol
        : _leadsOn ? _outline.NextChord : null;

    // What a bar has between its written basses.
    private List<Attack> Between(int bar, PartTask task, Chance chance, Balance balance)
    {
        var place = _outline.Places[bar];
        var written = Shifted(bar);
        var between = new List<Attack>();
        if (written.Length == 0 || place.Felt == FeltLevel.BarGroup || task is PartTask.Thin or PartTask.Break or PartTask.Rests)
        {
            return between;
        }

        balance = Counted(bar, balance, between);
        if (GoalAfter(bar) is { } goal && written[^1].Key is { } from)
        {
            var end = new Joint(bar, written[^1].Onset - _outline.OnsetOf(bar), from, place.Length, goal);
            if (WantsLine(bar, task, chance, balance) && Line(end, task, chance) is { } line)
            {
                between.AddRange(line.Where(step => !written.Any(attack => attack.Onset == _outline.OnsetOf(bar) + step.Offset)).Select((step, i) => Led(place, bar, step, i - line.Count)));
            }
            else if (WantsApproach(bar, task, chance, balance))
            {
                Approach(end, chance, between);
            }
        }

        for (var i = 1; i < written.Length; i++)
        {
            if (!between.Exists(attack => attack.Onset > written[i - 1].Onset && attack.Onset < written[i].Onset)
                && written[i - 1].Key is { } here && written[i].Key is { } there && here % 12 != there % 12
                && balance.Approached(1) <= WantedApproaches(task) + (0.3 * (chance.For("inside").At(i).Unit - 0.5)))
            {
                Approach(new Joint(bar, written[i - 1].Onset - _outline.OnsetOf(bar), here, written[i].Onset - _outline.OnsetOf(bar), there), chance.At(i), between);
            }
        }

        balance = Counted(bar, balance, between);
        AddMarks(bar, task, chance, balance, written, between);
        between.Sort((a, b) => a.Onset.CompareTo(b.Onset));
        return between;
    }

    private IReadOnlyList<(Span Offset, int Key)>? Line(Joint end, PartTask task, Chance chance) =>
        new BassSteps(_outline, _part, end).Line(chance.For("line"), task is PartTask.Fill or PartTask.Pickup) ?? (task == PartTask.High ? null : _lines[end.Bar]);

    // At the end of a bar group in which the last written bass leaves no room for a line: one that goes through the written basses, which then are other
    // tones of their chords; or from another tone of the bar's only chord. Null elsewhere.
    private IReadOnlyList<(Span Offset, int Key)>? LineThroughWritten(int bar)
    {
        var place = _outline.Places[bar];
        var chance = _playing.SectionChance(_index).For("bass").At(bar).For("through");
        if (place.Felt == FeltLevel.BarGroup || !(place.IsLastOfRun || (place.GroupPlace is { IsLast: true, Size: > 1 } && chance.Happens(ThroughShare)))
            || GoalAfter(bar) is not { } goal || _written[bar] is not [.., { Key: { } last }] written
            || place.Chords.Any(chord => !chord.Symbol.IsNoChord && chord.Symbol.Bass.PitchClass != chord.Symbol.Root.PitchClass))
        {
            return null;
        }

        var bare = new Joint(bar, written[^1].Onset - _outline.OnsetOf(bar), last, place.Length, goal);
        if (new BassSteps(_outline, _part, bare).Line(chance, false) is not null)
        {
            return null;
        }

        for (var first = written.Count - 2; first >= 0 && written[first].Key is { } from; first--)
        {
            var joint = new Joint(bar, written[first].Onset - _outline.OnsetOf(bar), from, place.Length, goal)
            {
                Written = [.. written.Skip(first + 1).Select(attack => attack.Onset - _outline.OnsetOf(bar))],
            };
            if (new BassSteps(_outline, _part, joint).Line(chance, false) is { } line)
            {
                foreach (var (offset, key) in line)
                {
                    var at = written.FindIndex(attack => attack.Onset == _outline.OnsetOf(bar) + offset);
                    if (at >= 0)
                    {
                        written[at] = written[at] with { Key = key };
                    }
                }

                return line;
            }
        }

        return null;
    }

    private bool WantsLine(int bar, PartTask task, Chance chance, Balance balance)
    {
        if (task is PartTask.Fill or PartTask.Pickup)
        {
            return true;
        }

        var place = _outline.Places[bar];
        if (place.IsLastOfRun)
        {
            return _lines[bar] is not null || chance.For("leads").Happens(SectionApproaches);
        }

        if (_lines[bar] is not null)
        {
            return true;
        }

        if (!place.GroupPlace.IsLast || balance.SinceLine + 1 < (task == PartTask.Full ? FewBarsWhenFull : Math.Min(FewBars, place.GroupPlace.Size)))
        {
            return false;
        }

        return balance.SinceLine >= ManyBars || balance.RootShare > ManyRoots || chance.For("leads").Happens(_moves ? OftenLed : OftenLed / 2);
    }

    private bool WantsApproach(int bar, PartTask task, Chance chance, Balance balance)
    {
        if (task is PartTask.Fill or PartTask.Pickup)
        {
            return true;
        }

        if (_outline.Places[bar].IsLastOfRun)
        {
            return chance.For("approach").Happens(SectionApproaches);
        }

        return _outline.Places[bar].Chords[^1].Symbol is { IsNoChord: false } here && ChordAfter(bar) is { IsNoChord: false } next
            && here.Bass.PitchClass != next.Bass.PitchClass
            && balance.Approached(1) <= WantedApproaches(task) + (0.3 * (chance.For("approach").Unit - 0.5));
    }

    private double WantedApproaches(PartTask task) => _settings.Approaches - 0.04 + (task == PartTask.Full ? 0.15 : 0);

    private void Approach(Joint joint, Chance chance, List<Attack> between)
    {
        var place = _outline.Places[joint.Bar];
        if (new BassSteps(_outline, _part, joint).Approach(chance.For("side")) is { } step)
        {
            between.Add(Led(place, joint.Bar, step, -1));
        }
    }

    private Attack Led(BarPlace place, int bar, (Span Offset, int Key) step, int before) =>
        new(_outline.OnsetOf(bar) + step.Offset, step.Key, Math.Max(-8, (2 * before) - 2) + (AccentAt(place, step.Offset) / 4), place.Felt) { Leads = true };

    // Chord tones on group starts inside the bar: felt in groups on nearly all, felt in units on one in every other bar, in an undivided bar
    // lightly on its last unit.
    private void AddMarks(int bar, PartTask task, Chance chance, Balance balance, Attack[] written, List<Attack> between)
    {
        var place = _outline.Places[bar];
        if (place.Felt is not (FeltLevel.Unit or FeltLevel.Group))
        {
            return;
        }

        var many = balance.RootShare > ManyRoots;
        List<int> units = [];
        if (place.Meter.Grouping.IsUndivided)
        {
            if (place.Felt == FeltLevel.Unit && place.Meter.Units >= 4)
            {
                units.Add(place.Meter.Units - 1);
            }
        }
        else if (place.Felt == FeltLevel.Group)
        {
            units.AddRange(place.Meter.GroupStartUnits.Skip(1).Where(unit => chance.For("mark").At(unit).Happens(MarkedStarts)));
        }
        else if (place.GroupPlace.Index % 2 == 1 || many || task == PartTask.Full)
        {
            units.Add(SecondMark(place, chance));
        }

        if (many && place.Felt == FeltLevel.Unit && !units.Exists(IsFree))
        {
            // Where chords change on the group starts, another unit.
            units.AddRange(Enumerable.Range(1, place.Meter.Units - 1).Where(IsFree).OrderBy(unit => chance.For("else").At(unit).Unit).Take(1));
        }

        if (task == PartTask.Full)
        {
            // One more mark: on the unit nearest to the middle of the longest space.
            units.AddRange(Enumerable.Range(1, place.Meter.Units - 1).OrderBy(unit => Math.Abs((2 * unit) - place.Meter.Units)).ThenBy(unit => unit).Where(unit => !units.Contains(unit)).Take(1));
        }

        foreach (var unit in units)
        {
            if (!IsFree(unit))
            {
                continue;
            }

            var offset = place.Meter.Unit * unit;
            var at = _outline.OnsetOf(bar) + offset;
            var symbol = place.Chords.ChordAt(offset);
            var below = written.LastOrDefault(attack => attack.Onset < at).Key;
            if (symbol.IsNoChord || below is not { } key)
            {
                continue;
            }

            var previous = written.Concat(between).Where(attack => attack.Onset < at && attack.Key is not null)
                .OrderBy(attack => attack.Onset).Select(attack => attack.Key).LastOrDefault(key) ?? key;
            between.Add(new Attack(at, Tone(symbol, key, previous, chance.For("tone").At(unit), balance), AccentAt(place, offset) - 6, place.Felt));
            balance = Counted(bar, balance, between);
        }

        // Nothing comes between the steps of a line; a short one starts with the written bass before it.
        bool IsFree(int unit)
        {
            var at = _outline.OnsetOf(bar) + (place.Meter.Unit * unit);
            var steps = between.Where(attack => attack.Leads).Select(attack => attack.Onset).Order().ToArray();
            var inLine = steps.Length > 1 && (steps.Length > 2 ? steps[0] : written.Last(attack => attack.Onset < steps[0]).Onset) < at;
            return !inLine && place.Length - (place.Meter.Unit * unit) >= Eighth && !written.Concat(between).Any(attack => Close(attack.Onset, at));
        }
    }

    private int Tone(ChordSymbol symbol, int below, int previous, Chance chance, Balance balance)
    {
        var root = symbol.Tones[0].PitchClass;
        var rooted = balance.RootShare < FewRoots || (balance.RootShare <= ManyRoots && chance.Happens(0.3));
        int[] tones = rooted ? [root] : chance.At(1).Happens(0.7)
            ? [(symbol.Tones.Fifth ?? symbol.Tones[0]).PitchClass, (symbol.Tones.Third ?? symbol.Tones[0]).PitchClass]
            : [(symbol.Tones.Third ?? symbol.Tones[0]).PitchClass, (symbol.Tones.Fifth ?? symbol.Tones[0]).PitchClass];
        var tone = tones.FirstOrDefault(tone => tone != root && tone != below % 12 && !BassSteps.Grinds(tone, symbol), root);
        var key = Near(tone, below);

        // No leap of more than an octave inside a bar.
        return tone == root && key == below && Math.Abs(OtherOctave(key) - previous) <= Octave ? OtherOctave(key)
            : Math.Abs(key - previous) > Octave && Math.Abs(OtherOctave(key) - previous) <= Octave ? OtherOctave(key)
            : key;
    }

    private static bool Close(Span a, Span b) => (a < b ? b - a : a - b) < Eighth;

    // The start that shows the grouping best: of the outermost groups, of those the longest, of those the nearest to the middle. The last
    // bar of a bar group may use another one.
    private static int SecondMark(BarPlace place, Chance chance)
    {
        var meter = place.Meter;
        var starts = Enumerable.Range(1, meter.GroupStartUnits.Count - 1)
            .OrderBy(group => meter.UnitDepths[meter.GroupStartUnits[group]])
            .ThenByDescending(group => meter.GroupSizes[group])
            .ThenBy(group => Math.Abs((2 * meter.GroupStartUnits[group]) - meter.Units))
            .ThenByDescending(group => group)
            .Select(group => meter.GroupStartUnits[group])
            .ToArray();
        var turns = place.GroupPlace is { IsLast: true, Size: > 1 } && starts.Length > 1 && chance.For("turn").Happens(0.5);
        return starts[turns ? 1 : 0];
    }

    private static int AccentAt(BarPlace place, Span offset)
    {
        var units = offset / place.Meter.Unit;
        return units.IsInteger
            ? AccentPlan.StepsAt(place.Meter, place.Felt, place.GroupPlace, (int)units.Numerator)
            : 0;
    }

    // The balance with a bar's written basses and what comes between them so far.
    private Balance Counted(int bar, Balance before, List<Attack> between)
    {
        var counted = before with { Notes = before.NotesBefore, Roots = before.RootsBefore };
        foreach (var attack in _written[bar].Concat(between))
        {
            if (attack.Key is { } key)
            {
                var chord = _outline.Places[bar].Chords.ChordAt(attack.Onset - _outline.OnsetOf(bar));
                counted.Notes++;
                counted.Roots += !chord.IsNoChord && key % 12 == chord.Root.PitchClass ? 1 : 0;
            }
        }

        return counted;
    }

    private Balance After(int bar, Balance before, List<Attack> between)
    {
        var after = Counted(bar, before, between);
        after.NotesBefore = after.Notes;
        after.RootsBefore = after.Roots;
        after.SinceLine = between.Count(attack => attack.Leads) > 1 ? 0 : before.SinceLine + 1;
        var goals = _written[bar].Skip(1).Select(attack => (attack.Onset, attack.Key)).Append((_outline.OnsetOf(bar) + _outline.Places[bar].Length, GoalAfter(bar))).ToArray();
        var from = _written[bar] is [var first, ..] ? first.Key : null;
        foreach (var (onset, key) in goals)
        {
            if (key is { } there && from is { } here && here % 12 != there % 12)
            {
                after.Changes++;
                after.Approaches += between.LastOrDefault(attack => attack.Onset < onset) is { Key: { } last } && Math.Abs(there - last) is 1 or 2 ? 1 : 0;
            }

            from = key;
        }

        return after;
    }

    // The nearest key of that pitch class, preferring the lower half of the register, and by some half steps one that a line of steps can reach.
    private int Near(int pitchClass, int before, double reached = 0)
    {
        var best = -1;
        var bestCost = double.MaxValue;
        var middle = (_part.Lowest + _part.Highest) / 2.0;
        for (var key = _part.Lowest; key <= _part.Highest; key++)
        {
            if (key % 12 != pitchClass)
            {
                continue;
            }

            var cost = Math.Abs(key - before) + (Math.Max(0, key - middle) * 0.75) - (Math.Abs(key - before) == ChordShapes.Fourth ? reached : 0);
            if (cost < bestCost)
            {
                (best, bestCost) = (key, cost);
            }
        }

        return best >= 0 ? best : NearestOutside(pitchClass);
    }

    // A register narrower than an octave may lack the pitch: then its nearest octave outside.
    private int NearestOutside(int pitchClass)
    {
        var above = _part.Lowest;
        while (above % 12 != pitchClass)
        {
            above++;
        }

        return above <= _part.Instrument.Highest ? above : above - 12;
    }

    private List<BassNote> Sounded(List<Attack> attacks)
    {
        var notes = new List<BassNote>(attacks.Count);
        Pitch? next = null;
        if (_leadsOn && !_outline.NextChord.IsNoChord && attacks is [.., { Key: { } last }])
        {
            next = Spelling.Nearest(_outline.NextChord.Bass, last);
        }

        // From the end, because a leading note is spelled by its target.
        for (var i = attacks.Count - 1; i >= 0; i--)
        {
            var attack = attacks[i];
            if (attack.Key is not { } key)
            {
                next = null;
                continue;
            }

            var end = i + 1 < attacks.Count ? attacks[i + 1].Onset : _outline.Length;
            var bar = _outline.BarAt(attack.Onset);
            if (_playing.TaskOf(_index, bar) == PartTask.Break)
            {
                end = Span.Min(end, attack.Onset + _outline.Places[bar].Meter.Unit);
            }

            var value = FitsUntil(attack.Onset, end, key) - attack.Onset;
            var pitch = _outline.Spell(key, attack.Onset, next);
            var ring = RingOf(attack.Felt) * (attack.Short ? new Rational(1, 2) : Rational.One);
            notes.Add(new BassNote(
                new LineNote(attack.Onset, Span.Min((end - attack.Onset) * ring, value), key, BaseVelocity + attack.Accent),
                value,
                pitch));
            next = pitch;
        }

        notes.Reverse();
        return notes;
    }

    // A ringing note is released at a chord to which it does not belong.
    private Span FitsUntil(Span from, Span end, int key)
    {
        for (var i = _outline.Chords.IndexAt(from) + 1; i < _outline.Chords.Count && _outline.Chords[i].Onset < end; i++)
        {
            var chord = _outline.Chords[i].Symbol;
            if (chord.IsNoChord || (!chord.Tones.Contains(key) && key % 12 != chord.Bass.PitchClass))
            {
                return _outline.Chords[i].Onset;
            }
        }

        return end;
    }

    private Rational RingOf(FeltLevel felt) =>
        _settings.Ring is { } ring ? new Rational((long)Math.Round(ring * 100), 100)
        : felt is FeltLevel.Bar or FeltLevel.BarGroup ? new Rational(9, 10)
        : new Rational(3, 5);

    private readonly record struct Attack(Span Onset, int? Key, int Accent, FeltLevel Felt)
    {
        /// <summary>True for a note of an approach or of a line.</summary>
        public bool Leads { get; init; }

        /// <summary>True for a note that is held half as long as usual.</summary>
        public bool Short { get; init; }
    }

    /// <summary>What the bass has done since the start of the run.</summary>
    private record struct Balance
    {
        public int Notes { get; set; }

        public int Roots { get; set; }

        public int NotesBefore { get; set; }

        public int RootsBefore { get; set; }

        public int Changes { get; set; }

        public int Approaches { get; set; }

        public int SinceLine { get; set; }

        public readonly double RootShare => Notes == 0 ? 1 : (double)Roots / Notes;

        public readonly double Approached(int more) => (double)(Approaches + more) / (Changes + 1);
    }
}
