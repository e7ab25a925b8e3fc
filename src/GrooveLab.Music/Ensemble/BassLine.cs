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

/// <summary>The bass of one playing of a section: the chord's written bass on downbeats and chord changes, a fifth, third or octave on
/// another group start, occasionally a step that leads to a new root. Sparse: attacks are at least an eighth apart.</summary>
/// <remarks>Common practice, no source.</remarks>
internal sealed class BassLine
{
    public const int BaseVelocity = 80;

    private static readonly Span Eighth = Span.Of(1, 8);

    private readonly RunOutline _outline;
    private readonly Part _part;
    private readonly BassSettings _settings;
    private readonly Chance _chance;
    private readonly bool _leadsOn;
    private readonly List<Attack> _attacks = [];
    private int _before;

    private BassLine(RunOutline outline, Part player, int part, RunPlaying playing, bool leadsOn)
    {
        _outline = outline;
        _part = player;
        _settings = (BassSettings)player.Settings;
        _chance = playing.SectionChance(part).For("bass");
        _leadsOn = leadsOn;
        // The first root is in the lower third of the register.
        _before = player.Lowest + ((player.Highest - player.Lowest) / 3);
    }

    public static IReadOnlyList<BassNote> For(RunOutline outline, Part player, int part, RunPlaying playing, bool leadsOn)
    {
        var line = new BassLine(outline, player, part, playing, leadsOn);
        for (var bar = 0; bar < outline.Places.Length; bar++)
        {
            line.AddBar(bar);
        }

        return line.Sounded();
    }

    private void AddBar(int bar)
    {
        var place = _outline.Places[bar];
        var chance = _chance.At(place.IndexInRun);
        foreach (var chord in place.Chords)
        {
            // With the feel on bar groups, the bass plays only on bar lines.
            if (chord.Onset > Span.Zero && place.Felt == FeltLevel.BarGroup)
            {
                continue;
            }

            var key = chord.Symbol.IsNoChord ? (int?)null : Near(chord.Symbol.Bass.PitchClass);
            Mark(place, chord.Onset, key, AccentAt(place, chord.Onset));
        }

        AddSecond(place, chance);
        AddApproach(bar, place, chance);
    }

    // One more note inside the bar, on a group start; in an undivided bar, a light one on its last unit.
    private void AddSecond(BarPlace place, Chance chance)
    {
        if (place.Chords.Count > 1 || place.Felt is FeltLevel.BarGroup or FeltLevel.Bar || place.Chords[0].Symbol.IsNoChord)
        {
            return;
        }

        int unit;
        if (place.Meter.Grouping.IsUndivided)
        {
            if (place.Felt != FeltLevel.Unit || place.Meter.Units < 4)
            {
                return;
            }

            unit = place.Meter.Units - 1;
        }
        else
        {
            // With the feel on units, every other bar has only the downbeat.
            if (place.Felt == FeltLevel.Unit && place.GroupPlace.Index % 2 == 0)
            {
                return;
            }

            unit = SecondMark(place);
        }

        var symbol = place.Chords[0].Symbol;
        var tone = chance.For("tone").Unit switch
        {
            < 0.55 => symbol.Tones.Fifth ?? symbol.Tones[0],
            < 0.75 => symbol.Tones.Third ?? symbol.Tones[0],
            _ => symbol.Tones[0],
        };
        var at = place.Meter.Unit * unit;
        Mark(place, at, Near(tone.PitchClass), AccentAt(place, at) - 6);
    }

    // The start that shows the grouping best: of the outermost groups, of those the longest, of those the nearest to the middle. The last
    // bar of a bar group may use another one.
    private int SecondMark(BarPlace place)
    {
        var meter = place.Meter;
        var starts = Enumerable.Range(1, meter.GroupStartUnits.Count - 1)
            .OrderBy(group => meter.UnitDepths[meter.GroupStartUnits[group]])
            .ThenByDescending(group => meter.GroupSizes[group])
            .ThenBy(group => Math.Abs((2 * meter.GroupStartUnits[group]) - meter.Units))
            .ThenByDescending(group => group)
            .Select(group => meter.GroupStartUnits[group])
            .ToArray();
        var turns = place.GroupPlace is { IsLast: true, Size: > 1 } && starts.Length > 1 && _chance.At(place.GroupPlace.Group).For("turn").Happens(0.5);
        return starts[turns ? 1 : 0];
    }

    private void AddApproach(int bar, BarPlace place, Chance chance)
    {
        var last = bar == _outline.Places.Length - 1;
        if (place.Felt is FeltLevel.Bar or FeltLevel.BarGroup || (last && !_leadsOn))
        {
            return;
        }

        var here = place.Chords[^1].Symbol;
        var next = last ? _outline.NextChord : _outline.Places[bar + 1].Chords[0].Symbol;
        if (here.IsNoChord || next.IsNoChord || here.Bass.PitchClass == next.Bass.PitchClass
            || !chance.For("approach").Happens(_settings.Approaches))
        {
            return;
        }

        var units = 1;
        while (place.Meter.Unit * units < Eighth)
        {
            units++;
        }

        if (units >= place.Meter.Units)
        {
            return;
        }

        // A group start gets a chord tone.
        if (place.Meter.GroupStartUnits.Contains(place.Meter.Units - units))
        {
            return;
        }

        var target = Near(next.Bass.PitchClass);
        var scale = _outline.Run.Key;
        var step = chance.For("side").Happens(0.5) ? 1 : -1;
        var key = Enumerable.Range(1, 2).Select(by => target + (step * by)).FirstOrDefault(scale.Contains, target + step);
        if (key < _part.Lowest || key > _part.Highest)
        {
            key = target - step;
        }

        if (key >= _part.Lowest && key <= _part.Highest)
        {
            Mark(place, place.Meter.Unit * (place.Meter.Units - units), key, -4);
        }
    }

    private static int AccentAt(BarPlace place, Span offset)
    {
        var units = offset / place.Meter.Unit;
        return units.IsInteger
            ? AccentPlan.StepsAt(place.Meter, place.Felt, place.GroupPlace, (int)units.Numerator)
            : 0;
    }

    // Omits a note less than an eighth after the one before: the earlier one continues. Downbeats win over notes that would crowd them.
    private void Mark(BarPlace place, Span offset, int? key, int accent)
    {
        var at = _outline.OnsetOf(place.IndexInRun) + offset;
        var index = _attacks.FindLastIndex(attack => attack.Onset <= at);
        var tooClose = (offset > Span.Zero && place.Length - offset < Eighth)
            || (index >= 0 && at - _attacks[index].Onset < Eighth)
            || (index + 1 < _attacks.Count && _attacks[index + 1].Onset - at < Eighth)
            || (_leadsOn && _outline.Length - at < Eighth);
        if (tooClose)
        {
            return;
        }

        _attacks.Insert(index + 1, new Attack(at, key, accent, place.Felt));
        _before = key ?? _before;
    }

    // The nearest key of that pitch class, preferring the lower half of the register.
    private int Near(int pitchClass)
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

            var cost = Math.Abs(key - _before) + (Math.Max(0, key - middle) * 0.75);
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

    private List<BassNote> Sounded()
    {
        var notes = new List<BassNote>(_attacks.Count);
        Pitch? next = null;
        if (_leadsOn && !_outline.NextChord.IsNoChord && _attacks is [.., { Key: { } last }])
        {
            next = Spelling.Nearest(_outline.NextChord.Bass, last);
        }

        // From the end, because a leading note is spelled by its target.
        for (var i = _attacks.Count - 1; i >= 0; i--)
        {
            var attack = _attacks[i];
            if (attack.Key is not { } key)
            {
                next = null;
                continue;
            }

            var end = i + 1 < _attacks.Count ? _attacks[i + 1].Onset : _outline.Length;
            var value = FitsUntil(attack.Onset, end, key) - attack.Onset;
            var pitch = _outline.Spell(key, attack.Onset, next);
            notes.Add(new BassNote(
                new LineNote(attack.Onset, Span.Min((end - attack.Onset) * RingOf(attack.Felt), value), key, BaseVelocity + attack.Accent),
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

    private readonly record struct Attack(Span Onset, int? Key, int Accent, FeltLevel Felt);
}
