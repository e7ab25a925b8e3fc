using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Ensemble;

/// <summary>A note of a sustain line.</summary>
/// <param name="Note">The held key and its place.</param>
/// <param name="Bow">The index of its bow (or breath, or bellows stroke).</param>
/// <param name="Legato">True when the voice continues to another key without a gap.</param>
/// <param name="Written">The note on paper; its place from the run's first bar line.</param>
internal readonly record struct HeldNote(LineNote Note, int Bow, bool Legato, WrittenOrigin Written);

/// <summary>A bow: from one change of direction to the next, placed from the run's first bar line.</summary>
internal readonly record struct Bow(Span Onset, Span Length);

/// <summary>The held voices of one playing of a section. Each keeps its tone while that belongs to the chord and otherwise moves to the
/// nearest chord tone; the bow changes at bar groups and bar lines, after about six seconds at most.</summary>
/// <remarks>Common practice, no source.</remarks>
internal sealed class SustainLine
{
    public const int BaseVelocity = 52;

    /// <summary>Longest bow in seconds.</summary>
    private const double LongestBow = 6.0;

    /// <summary>A note lays back only if it lasts longer than this many times the delay.</summary>
    private const int DelayShare = 3;

    /// <summary>Keys closer than this to the sounding tune clash with it.</summary>
    private const int Rub = 2;

    /// <summary>The rank of a turn on a bar group.</summary>
    private const int HighestRank = 3;

    private readonly RunOutline _outline;
    private readonly Part _part;
    private readonly SustainSettings _settings;
    private readonly Chance _chance;
    private readonly SoundingKeys _tune;
    private readonly SoundingKeys _others;
    private readonly double[] _barSeconds;

    private SustainLine(RunOutline outline, Part player, int part, RunPlaying playing, SoundingKeys tune, SoundingKeys others)
    {
        _outline = outline;
        _part = player;
        _settings = (SustainSettings)player.Settings;
        _chance = playing.SectionChance(part).For("sustain");
        _tune = tune;
        _others = others;
        _barSeconds = Seconds(outline);
        Bows = MakeBows();
        Notes = MakeNotes();
    }

    public IReadOnlyList<Bow> Bows { get; }

    /// <summary>The notes of all voices in order of onset.</summary>
    public IReadOnlyList<HeldNote> Notes { get; }

    public static SustainLine For(RunOutline outline, Part player, int part, RunPlaying playing, SoundingKeys tune, SoundingKeys others) =>
        new(outline, player, part, playing, tune, others);

    private static double[] Seconds(RunOutline outline)
    {
        var seconds = new double[outline.Places.Length + 1];
        for (var i = 0; i < outline.Places.Length; i++)
        {
            var place = outline.Places[i];
            seconds[i + 1] = seconds[i] + SecondsInto(place, place.Length);
        }

        return seconds;
    }

    // Follows a ramp tempo by tempo.
    private static double SecondsInto(BarPlace place, Span offset)
    {
        var seconds = 0.0;
        for (var i = 0; i < place.Tempi.Count && place.Tempi[i].Onset < offset; i++)
        {
            var end = i + 1 < place.Tempi.Count ? Span.Min(offset, place.Tempi[i + 1].Onset) : offset;
            seconds += place.Tempi[i].Tempo.Seconds(end - place.Tempi[i].Onset).ToDouble();
        }

        return seconds;
    }

    private List<Bow> MakeBows()
    {
        // A bow may end later than planned if the next one lays back.
        var longest = LongestBow - LongestDelay();
        var places = Turns(longest);
        var above = NextAbove(places);
        var bows = new List<Bow>();
        var at = 0;
        while (at < places.Count - 1)
        {
            // The best bow change is the most important one within reach; among equals, the last, or if the distance to a more important
            // one must be divided, the one that divides it most evenly.
            var best = at + 1;
            var end = at + 1;
            for (; end < places.Count && places[end].Seconds - places[at].Seconds <= longest + 1e-9; end++)
            {
                if (places[end].Rank >= places[best].Rank)
                {
                    best = end;
                }
            }

            var rank = places[best].Rank;
            if (rank < HighestRank && end < places.Count && above[rank + 1][end] is var goal && goal < places.Count)
            {
                var way = places[goal].Seconds - places[at].Seconds;
                var even = places[at].Seconds + (way / Math.Ceiling((way - 1e-9) / longest));
                best = Enumerable.Range(at + 1, Math.Max(1, end - at - 1)).Where(i => places[i].Rank == rank).MinBy(i => Math.Abs(places[i].Seconds - even));
            }

            bows.Add(new Bow(places[at].At, places[best].At - places[at].At));
            at = best;
        }

        return bows;
    }

    // For each rank from -1 and each place, the next place of a higher rank, this one included; the number of places if none follows.
    private static int[][] NextAbove(List<(Span At, double Seconds, int Rank)> places)
    {
        var above = new int[HighestRank + 1][];
        for (var rank = -1; rank < HighestRank; rank++)
        {
            var next = new int[places.Count];
            var at = places.Count;
            for (var i = places.Count - 1; i >= 0; i--)
            {
                at = places[i].Rank > rank ? i : at;
                next[i] = at;
            }

            above[rank + 1] = next;
        }

        return above;
    }

    // Possible bow changes: bar groups before bar lines, then group starts, then units; in a unit longer than a bow, its parts, halved
    // until short enough.
    private List<(Span At, double Seconds, int Rank)> Turns(double longest)
    {
        var turns = new List<(Span At, double Seconds, int Rank)>();
        for (var i = 0; i < _outline.Places.Length; i++)
        {
            var place = _outline.Places[i];
            for (var unit = 0; unit < place.Meter.Units; unit++)
            {
                var depth = place.Meter.UnitDepths[unit];
                var rank = depth == 0 ? (place.GroupPlace.IsFirst ? 3 : 2) : depth <= place.Meter.Grouping.Depth ? 1 : 0;
                turns.Add((
                    _outline.OnsetOf(i) + (place.Meter.Unit * unit),
                    _barSeconds[i] + SecondsInto(place, place.Meter.Unit * unit),
                    rank));
                if (place.Stop != BandStop.Hold)
                {
                    AddPartsOfUnit(turns, i, unit, longest);
                }
            }
        }

        turns.Add((_outline.Length, _barSeconds[^1], 3));
        return turns;
    }

    private void AddPartsOfUnit(List<(Span At, double Seconds, int Rank)> turns, int bar, int unit, double longest)
    {
        var place = _outline.Places[bar];
        var from = place.Meter.Unit * unit;
        var seconds = SecondsInto(place, from + place.Meter.Unit) - SecondsInto(place, from);
        var parts = 1;
        while (seconds / parts > longest)
        {
            parts *= 2;
        }

        for (var part = 1; part < parts; part++)
        {
            var at = from + (place.Meter.Unit * new Rational(part, parts));
            turns.Add((_outline.OnsetOf(bar) + at, _barSeconds[bar] + SecondsInto(place, at), -1));
        }
    }

    private List<HeldNote> MakeNotes()
    {
        var pieces = Pieces();
        var voices = new List<(Span Onset, Span End, int Key, int Bow)>[_settings.Voices];
        for (var voice = 0; voice < voices.Length; voice++)
        {
            voices[voice] = [];
        }

        var keys = new int?[_settings.Voices];
        foreach (var piece in pieces)
        {
            for (var voice = 0; voice < voices.Length; voice++)
            {
                keys[voice] = piece.Chord.IsNoChord ? null : Choose(voice, keys, piece);
                if (keys[voice] is not { } key)
                {
                    continue;
                }

                var line = voices[voice];
                if (line.Count > 0 && line[^1].End == piece.Onset && line[^1].Key == key && line[^1].Bow == piece.Bow)
                {
                    line[^1] = line[^1] with { End = piece.End };
                }
                else
                {
                    line.Add((piece.Onset, piece.End, key, piece.Bow));
                }
            }
        }

        var notes = new List<HeldNote>();
        for (var voice = 0; voice < voices.Length; voice++)
        {
            AddVoice(voices[voice], voice, notes);
        }

        notes.Sort((a, b) => a.Note.Onset != b.Note.Onset
            ? a.Note.Onset.CompareTo(b.Note.Onset)
            : a.Note.Key.CompareTo(b.Note.Key));
        return notes;
    }

    private void AddVoice(List<(Span Onset, Span End, int Key, int Bow)> line, int voice, List<HeldNote> notes)
    {
        var late = LateBows();
        var pitch = default(Pitch);
        for (var i = 0; i < line.Count; i++)
        {
            var (onset, end, key, bow) = line[i];
            var join = i == 0 || line[i - 1].End != onset || !PlaysThrough(notes[^1].Note.Onset, onset) ? NoteJoin.None
                : line[i - 1].Key == key ? NoteJoin.HeldOn
                : line[i - 1].Bow == bow ? NoteJoin.Slurred
                : NoteJoin.None;

            // A continued note keeps its spelling under another chord.
            pitch = join == NoteJoin.HeldOn ? pitch : _outline.Spell(key, onset);
            var written = new WrittenOrigin { Pitch = pitch, Onset = onset, Length = end - onset, Voice = voice, Join = join };
            var turnsHere = onset == Bows[bow].Onset;
            if (turnsHere && onset > Span.Zero)
            {
                onset += Delay(late, bow, onset, end);
            }

            var joined = i + 1 < line.Count && line[i + 1].Onset == end;
            if (joined && line[i + 1].Bow != bow)
            {
                var delay = Delay(late, line[i + 1].Bow, end, line[i + 1].End);
                end += MeetsNobody(key, end, end + delay) ? delay : Span.Zero;
            }
            else if (!joined && i == line.Count - 1)
            {
                end = Breathe(onset, end);
            }

            notes.Add(new HeldNote(
                new LineNote(onset, end - onset, key, BaseVelocity + (turnsHere ? 4 : 0)),
                bow,
                joined && line[i + 1].Key != key,
                written with { Late = onset - written.Onset }));
        }
    }

    // At a stop of the band on the way, the note before is silent or cut.
    private bool PlaysThrough(Span from, Span to)
    {
        var bar = _outline.BarAt(from);
        while (_outline.Places[bar].Stop == BandStop.None)
        {
            bar++;
            if (bar == _outline.Places.Length || _outline.OnsetOf(bar) > to)
            {
                return true;
            }
        }

        return false;
    }

    private bool MeetsNobody(int key, Span from, Span to) =>
        !_tune.KeysIn(from, to).Contains(key) && !_others.KeysIn(from, to).Any(other => TooClose(key, other));

    // Section ends breathe: the last half unit is silent if the last note is long enough.
    private Span Breathe(Span onset, Span end)
    {
        var half = _outline.Places[^1].Meter.Unit / 2;
        return end == _outline.Length && end - onset > half * 6 ? end - half : end;
    }

    // Only a note three times as long as the delay lays back, so no bow does if its delay exceeds a third of the longest bow.
    private double LongestDelay()
    {
        var share = _settings.LaidBack switch
        {
            LayBack.None => 0,
            LayBack.Unit => 1,
            _ => 0.5,
        };
        return _outline.Places.Where(place => place.Stop != BandStop.Hold)
            .Select(place => share * place.Tempi.Max(tempo => tempo.Tempo.Seconds(place.Meter.Unit).ToDouble()))
            .Where(delay => delay * DelayShare < LongestBow)
            .DefaultIfEmpty(0)
            .Max();
    }

    private Span Delay(HashSet<int> late, int bow, Span onset, Span end)
    {
        if (!late.Contains(bow))
        {
            return Span.Zero;
        }

        var unit = _outline.Places[_outline.BarAt(onset)].Meter.Unit;
        var delay = _settings.LaidBack == LayBack.Unit ? unit : unit / 2;
        return end - onset > delay * DelayShare ? delay : Span.Zero;
    }

    // Occasionally, and never twice in a row, a bow starts after the bar line.
    private HashSet<int> LateBows()
    {
        var late = new HashSet<int>();
        if (_settings.LaidBack != LayBack.None)
        {
            for (var bow = 1; bow < Bows.Count; bow++)
            {
                // A part that strikes a hold with the others does not lay back.
                var held = _outline.Places[^1].Stop == BandStop.Hold && Bows[bow].Onset >= _outline.OnsetOf(_outline.Places.Length - 1);
                if (!held && !late.Contains(bow - 1) && _chance.At(bow).For("late").Happens(0.45))
                {
                    late.Add(bow);
                }
            }
        }

        return late;
    }

    private List<(Span Onset, Span End, ChordSymbol Chord, int Bow)> Pieces()
    {
        var pieces = new List<(Span Onset, Span End, ChordSymbol Chord, int Bow)>();
        var bow = 0;
        foreach (var stretch in _outline.Chords)
        {
            var at = stretch.Onset;
            while (at < stretch.End)
            {
                while (Bows[bow].Onset + Bows[bow].Length <= at)
                {
                    bow++;
                }

                var end = Span.Min(stretch.End, Bows[bow].Onset + Bows[bow].Length);
                pieces.Add((at, end, stretch.Symbol, bow));
                at = end;
            }
        }

        return pieces;
    }

    private int? Choose(int voice, int?[] keys, (Span Onset, Span End, ChordSymbol Chord, int Bow) piece)
    {
        var tune = _tune.KeysIn(piece.Onset, piece.End).ToHashSet();
        var taken = _others.KeysIn(piece.Onset, piece.End).ToHashSet();
        // The register is divided from the bottom up: it gives the start of a voice without a previous tone.
        var home = _part.Lowest + ((_part.Highest - _part.Lowest) * (voice + 1) / (_settings.Voices + 1));
        var before = keys[voice] ?? home;
        int? best = null;
        var bestCost = int.MaxValue;
        for (var key = _part.Lowest; key <= _part.Highest; key++)
        {
            if (!piece.Chord.Tones.Contains(key))
            {
                continue;
            }

            var cost = (10 * Math.Abs(key - before)) + Math.Abs(key - home);
            cost += tune.Any(sung => Math.Abs(sung - key) <= Rub) ? 2000 : 0;
            cost += tune.Contains(key) ? 5000 : 0;
            cost += taken.Any(other => TooClose(key, other)) ? 3000 : 0;
            cost += keys.Take(voice).Any(other => other is { } below && (key <= below || TooClose(key, below))) ? 4000 : 0;
            if (cost < bestCost)
            {
                (best, bestCost) = (key, cost);
            }
        }

        // Omit a second voice that would only double another or clash; the first always holds except on the tune's own key.
        return (voice > 0 && bestCost >= 1000) || (best is { } chosen && tune.Contains(chosen)) ? null : best;
    }

    private static bool TooClose(int a, int b) =>
        a == b || Math.Abs(a - b) < 2 || (Math.Min(a, b) < Voicings.LowIntervalLimit && Math.Abs(a - b) < 5);
}
