using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
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

/// <summary>The held voices of one playing of a section. Each sings its own line (<see cref="SustainSong"/>); the bow changes at bar groups and bar lines, after about six seconds at most.</summary>
/// <remarks>Common practice, no source.</remarks>
internal sealed class SustainLine
{
    public const int BaseVelocity = 52;

    /// <summary>Longest bow in seconds.</summary>
    private const double LongestBow = 6.0;

    /// <summary>A note lays back only if it lasts longer than this many times the delay.</summary>
    private const int DelayShare = 3;

    /// <summary>The shortest suspension, the shortest and longest passing note and the shortest answered rest of the tune, in seconds.
    /// Common practice, no source.</summary>
    private const double ShortestDissonance = 0.35, ShortestPassing = 0.2, LongestPassing = 1.6, ShortestAnswer = 1.2;

    /// <summary>The share of a later playing's bars that differ from the first: at least, and at most. At least a fifth and at most half, with
    /// room for a bar more or less. Common practice, no source.</summary>
    private const double LeastVaried = 0.24, MostVaried = 0.46;

    private const int MostAttempts = 10;

    /// <summary>Half steps by which high voices lie higher, so that they come from the usual ones without a leap.</summary>
    private const int HighUp = 7;

    /// <summary>The share of such rests that are answered. Common practice, no source.</summary>
    private const double AnsweredShare = 0.6;

    /// <summary>The rank of a turn on a bar group.</summary>
    private const int HighestRank = 3;

    private readonly RunOutline _outline;
    private readonly Part _part;
    private readonly SustainSettings _settings;
    private readonly Chance _chance;
    private readonly RunPlaying _playing;
    private readonly int _index;
    private readonly SoundingKeys _tune;
    private readonly SoundingKeys _others;
    private readonly SoundingKeys _othersAtFirst;
    private readonly double[] _barSeconds;
    private readonly SustainLine?[] _whenNew;
    private List<SongNote>[] _voices = [];
    private HashSet<(Span At, int Key, int Length)>[] _content = [];

    private SustainLine(
        RunOutline outline, Part player, int part, RunPlaying playing, SoundingKeys tune, SoundingKeys others, SoundingKeys othersAtFirst, Func<int, SustainLine?> whenNew)
    {
        _outline = outline;
        _part = player;
        _settings = (SustainSettings)player.Settings;
        _playing = playing;
        _index = part;
        _chance = playing.SectionChance(part).For("sustain");
        _tune = tune;
        _others = others;
        _othersAtFirst = othersAtFirst;
        _barSeconds = Seconds(outline);
        Bows = MakeBows();
        _whenNew = [.. Enumerable.Range(0, outline.Places.Length).Select(bar => whenNew(bar) is { } line && TurnsIn(bar).SequenceEqual(line.TurnsIn(bar)) ? line : null)];
        Notes = MakeNotes();
    }

    public IReadOnlyList<Bow> Bows { get; }

    /// <summary>What chords leave out until suspensions resolve.</summary>
    public IReadOnlyList<Withheld> Withheld { get; private set; } = [];

    /// <summary>The notes of all voices in order of onset.</summary>
    public IReadOnlyList<HeldNote> Notes { get; }

    /// <summary>The keys of all voices as at the first playing, without an arrangement.</summary>
    public IReadOnlyList<LineNote> AtFirst { get; private set; } = [];

    /// <summary>The line of a part in one playing.</summary>
    /// <param name="outline">The bars.</param>
    /// <param name="player">The part.</param>
    /// <param name="part">Its number.</param>
    /// <param name="playing">What the arrangement asks, and what differs from the first playing.</param>
    /// <param name="tune">The keys of the tune.</param>
    /// <param name="others">The keys of bass and earlier sustain parts in this playing.</param>
    /// <param name="othersAtFirst">The same in the first playing.</param>
    /// <param name="whenNew">The line of the playing in which the part first had the task of a bar; null when the task is new.</param>
    public static SustainLine For(
        RunOutline outline, Part player, int part, RunPlaying playing, SoundingKeys tune, SoundingKeys others, SoundingKeys othersAtFirst, Func<int, SustainLine?> whenNew) =>
        new(outline, player, part, playing, tune, others, othersAtFirst, whenNew);

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
        // The voices as they are without an arrangement; with those kept elsewhere, the bars that are asked for something else; what was played
        // when the task was new; then the bars where others are in the way in this playing only; then the bars that vary.
        var plain = Songs(new FreeBars(_ => false, false, _othersAtFirst), null);
        AtFirst = [.. plain.SelectMany(Joined).Select(note => new LineNote(note.Onset, note.End - note.Onset, note.Key, 0))];
        var asked = Enumerable.Range(0, _outline.Places.Length).Where(bar => TaskOf(bar) != PartTask.Plays).ToHashSet();
        var usual = Kept(asked.Count == 0 ? plain : Songs(new FreeBars(asked.Contains, false, _othersAtFirst), plain));
        var meeting = Meeting(usual);
        _voices = Otherwise(meeting.Count == 0 ? usual : Songs(new FreeBars(meeting.Contains, false, _others), usual), meeting);
        Withheld = [.. _voices.SelectMany(WithheldIn)];
        var voices = _voices.Select(Joined).ToArray();

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
        !_tune.KeysIn(from, to).Contains(key) && !_others.KeysIn(from, to).Any(other => SustainSong.TooClose(key, other));

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
            LayBack.None or LayBack.Lean => 0,
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
        if (_settings.LaidBack is not (LayBack.None or LayBack.Lean))
        {
            for (var bow = 1; bow < Bows.Count; bow++)
            {
                // A part that strikes a hold with the others does not lay back.
                var held = _outline.Places[^1].Stop == BandStop.Hold && Bows[bow].Onset >= _outline.OnsetOf(_outline.Places.Length - 1);
                if (!held && !late.Contains(bow - 1) && LateShare.Allows(late.Count, _outline.GroupStartsUpTo(Bows[bow].Onset)) && _chance.At(bow).For("late").Happens(0.45))
                {
                    late.Add(bow);
                }
            }
        }

        return late;
    }

    // The places in a bar where the bow turns, from its bar line.
    private IEnumerable<Span> TurnsIn(int bar)
    {
        var (from, to) = (_outline.OnsetOf(bar), _outline.OnsetOf(bar) + _outline.Places[bar].Length);
        return Bows.Where(bow => bow.Onset >= from && bow.Onset < to).Select(bow => bow.Onset - from);
    }

    // The voices with what they played when a bar's task was new.
    private List<SongNote>[] Kept(List<SongNote>[] usual)
    {
        if (_whenNew.All(line => line is null))
        {
            return usual;
        }

        var kept = usual.Select(_ => new List<SongNote>()).ToArray();
        for (var voice = 0; voice < kept.Length; voice++)
        {
            for (var bar = 0; bar < _whenNew.Length; bar++)
            {
                var (from, length) = (_outline.OnsetOf(bar), _outline.Places[bar].Length);
                var there = _whenNew[bar]?._outline.OnsetOf(bar) ?? from;
                foreach (var note in Within(_whenNew[bar]?._voices[voice] ?? usual[voice], there, there + length))
                {
                    var onset = note.Onset - there + from;
                    kept[voice].Add(note with { Onset = onset, End = note.End - there + from, Bow = BowAt(onset) });
                }
            }

            Mend(kept[voice]);
        }

        return kept;
    }

    private int BowAt(Span place)
    {
        var (low, high) = (0, Bows.Count - 1);
        while (low < high)
        {
            var middle = (low + high + 1) / 2;
            (low, high) = Bows[middle].Onset <= place ? (middle, high) : (low, middle - 1);
        }

        return low;
    }

    // Varies the bars that are to vary, and more or fewer if that is heard in too few or too many: a held note reaches into its neighbours.
    private List<SongNote>[] Otherwise(List<SongNote>[] usual, HashSet<int> meeting)
    {
        foreach (var notes in usual)
        {
            Mend(notes);
        }

        var now = Content(usual);
        var heard = _whenNew.Select((line, bar) => line?._content[bar]).ToArray();
        var bars = Enumerable.Range(0, heard.Length).Where(bar => heard[bar] is { } before && (before.Count > 0 || now[bar].Count > 0)).ToArray();
        var order = bars.Where(bar => TaskOf(bar) is PartTask.Plays or PartTask.Full or PartTask.High or PartTask.Thin)
            .OrderByDescending(bar => _playing.IsVaried(_index, bar)).ThenByDescending(meeting.Contains).ThenBy(bar => _playing.PlayingChance(_index).For("more").At(bar).Unit).ToArray();
        var varied = order.Count(bar => _playing.IsVaried(_index, bar));
        var (least, most) = ((int)Math.Ceiling(LeastVaried * bars.Length), (int)(MostVaried * bars.Length));
        var (best, bestMiss) = (usual, int.MaxValue);
        for (var attempt = 0; attempt < MostAttempts && bestMiss > 0 && bars.Length > 0; attempt++)
        {
            var free = order.Take(varied).ToHashSet();
            var songs = varied == 0 ? usual : Songs(new FreeBars(free.Contains, true, _others), usual);
            foreach (var notes in songs)
            {
                Mend(notes);
            }

            now = Content(songs);
            var differ = bars.Count(bar => !now[bar].SetEquals(heard[bar]!));
            var miss = Math.Max(0, Math.Max(least - differ, differ - Math.Max(least, most)));
            if (miss < bestMiss)
            {
                (best, bestMiss) = (songs, miss);
            }

            varied = Math.Clamp(varied + (differ < least ? miss : -miss), 0, order.Length);
        }

        _content = Content(best);
        return best;
    }

    // The bars in which a voice would meet another part: also the tune, whose pickup into the next section may be a new one.
    private HashSet<int> Meeting(List<SongNote>[] songs)
    {
        var bars = new HashSet<int>();
        foreach (var note in songs.SelectMany(notes => notes))
        {
            if (note.Key is not { } key)
            {
                continue;
            }

            foreach (var other in _others.In(note.Onset, note.End).Where(other => SustainSong.TooClose(key, other.Key)).Concat(_tune.In(note.Onset, note.End).Where(sung => sung.Key == key)))
            {
                var last = _outline.BarAt(Span.Min(note.End, other.End) - Span.Of(1, 1024));
                bars.UnionWith(Enumerable.Range(_outline.BarAt(Span.Max(note.Onset, other.Onset)), Math.Max(1, last - _outline.BarAt(Span.Max(note.Onset, other.Onset)) + 1)));
            }
        }

        return bars;
    }

    // Where a bar is played otherwise, its neighbour may have lost what prepared a suspension or followed a passing note: then its chord
    // tone sounds instead.
    private void Mend(List<SongNote> notes)
    {
        for (var i = 0; i < notes.Count; i++)
        {
            if (notes[i].Key is not { } key || _outline.Chords.ChordAt(notes[i].Onset) is var chord && (chord.IsNoChord || chord.Tones.Contains(key)))
            {
                continue;
            }

            var before = i > 0 ? notes[i - 1].Key : null;
            var after = i + 1 < notes.Count ? notes[i + 1].Key : null;
            var passes = (after - key) * (key - before) is > 0 and <= 4;
            if (before != key && !passes)
            {
                var opens = _outline.Chords[_outline.Chords.IndexAt(notes[i].Onset)].Onset == notes[i].Onset;
                notes[i] = notes[i] with { Key = opens ? after : before };
            }
            else if (before == key && after is null)
            {
                notes[i] = notes[i] with { Key = null };
            }
        }
    }

    private IEnumerable<Withheld> WithheldIn(List<SongNote> notes)
    {
        for (var i = 0; i + 1 < notes.Count; i++)
        {
            var chord = _outline.Chords[_outline.Chords.IndexAt(notes[i].Onset)];
            if (notes[i].Key is { } key && notes[i + 1].Key is { } next && notes[i].Onset == chord.Onset && !chord.Symbol.Tones.Contains(key)
                && chord.Symbol.Tones.Contains(next) && (key - next == 1 || (key - next == 2 && next % 12 == chord.Symbol.Tones.Third?.PitchClass)))
            {
                yield return new Withheld(notes[i].Onset, notes[i].End, next % 12);
            }
        }
    }

    // What is heard in each bar: the notes that start in it, by place, key and about how long, and those that sound on.
    private HashSet<(Span At, int Key, int Length)>[] Content(List<SongNote>[] songs)
    {
        var bars = Enumerable.Range(0, _outline.Places.Length).Select(_ => new HashSet<(Span At, int Key, int Length)>()).ToArray();
        foreach (var (onset, end, key, _) in songs.SelectMany(Joined))
        {
            var bar = _outline.BarAt(onset);
            bars[bar].Add((onset - _outline.OnsetOf(bar), key, (int)Math.Round(Math.Log2(((end - onset) / _outline.Places[bar].Meter.Unit).ToDouble()))));
            for (bar++; bar < bars.Length && _outline.OnsetOf(bar) < end; bar++)
            {
                bars[bar].Add((-Span.Of(1, 1), key, 0));
            }
        }

        return bars;
    }

    private PartTask TaskOf(int bar) => _playing.TaskOf(_index, bar);

    private List<SongNote>[] Songs(FreeBars free, List<SongNote>[]? usual)
    {
        var voices = Nodes(free);
        var songs = new List<SongNote>[voices.Length];
        for (var voice = 0; voice < voices.Length; voice++)
        {
            foreach (var (node, i) in voices[voice].Select((node, i) => (node, i)))
            {
                if (voice > 0)
                {
                    node.Lower.UnionWith(voices[voice - 1][i].Lower);
                }

                if (usual is not null)
                {
                    var first = Within(usual[voice], node.Onset, node.End);
                    node.Fixed = free.Has(node.Bar) ? null : first;
                    node.Unlike = free.Has(node.Bar) && free.Vary ? first : null;
                }
            }

            // The register is divided from the bottom up: it gives the start of a voice without a previous tone.
            var home = _part.Lowest + ((_part.Highest - _part.Lowest) * (voice + 1) / (_settings.Voices + 1));
            songs[voice] = new SustainSong(voices[voice], _outline.Run.Key, _part, voice, home).Notes;
        }

        return songs;
    }

    private static List<SongNote> Within(List<SongNote> notes, Span from, Span to)
    {
        var (low, high) = (0, notes.Count);
        while (low < high)
        {
            var middle = (low + high) / 2;
            (low, high) = notes[middle].End <= from ? (middle + 1, high) : (low, middle);
        }

        var found = new List<SongNote>();
        for (; low < notes.Count && notes[low].Onset < to; low++)
        {
            found.Add(notes[low] with { Onset = Span.Max(notes[low].Onset, from), End = Span.Min(notes[low].End, to) });
        }

        return found;
    }

    private static List<(Span Onset, Span End, int Key, int Bow)> Joined(List<SongNote> notes)
    {
        var line = new List<(Span Onset, Span End, int Key, int Bow)>();
        foreach (var note in notes)
        {
            if (note.Key is not { } key)
            {
                continue;
            }

            if (line.Count > 0 && line[^1].End == note.Onset && line[^1].Key == key && line[^1].Bow == note.Bow)
            {
                line[^1] = line[^1] with { End = note.End };
            }
            else
            {
                line.Add((note.Onset, note.End, key, note.Bow));
            }
        }

        return line;
    }

    // The nodes of each voice: chords cut at bows, at rests of the tune that the highest voice answers, and around bars that are asked for
    // something else.
    private List<SongNode>[] Nodes(FreeBars free)
    {
        var answers = Answers();
        var cuts = new SortedSet<Span>(Comparer<Span>.Create((a, b) => a.CompareTo(b)));
        cuts.UnionWith(answers);
        cuts.UnionWith(Bows.Select(bow => bow.Onset));
        var fills = new HashSet<Span>();
        for (var bar = 0; bar < _outline.Places.Length; bar++)
        {
            if (!free.Has(bar))
            {
                continue;
            }

            var place = _outline.Places[bar];
            cuts.Add(_outline.OnsetOf(bar));
            cuts.Add(_outline.OnsetOf(bar) + place.Length);
            if (TaskOf(bar) is PartTask.Fill or PartTask.Pickup)
            {
                fills.UnionWith(place.Meter.GroupStartUnits.Skip(1).Select(unit => _outline.OnsetOf(bar) + (place.Meter.Unit * unit)));
            }
        }

        cuts.UnionWith(fills);
        var voices = Enumerable.Range(0, _settings.Voices).Select(_ => new List<SongNode>()).ToArray();
        ChordSymbol? before = null;
        var bow = 0;
        foreach (var stretch in _outline.Chords)
        {
            var at = stretch.Onset;
            while (at < stretch.End)
            {
                var next = cuts.GetViewBetween(at, stretch.End).FirstOrDefault(cut => cut > at, stretch.End);
                while (Bows[bow].Onset + Bows[bow].Length <= at)
                {
                    bow++;
                }

                for (var voice = 0; voice < voices.Length; voice++)
                {
                    var isTop = voice == voices.Length - 1;
                    voices[voice].Add(NodeOf(at, next, stretch.Symbol, before is not null && !before.Equals(stretch.Symbol), bow, voice, free, fills.Contains(at) || (isTop && answers.Contains(at))));
                }

                before = stretch.Symbol;
                at = next;
            }
        }

        return voices;
    }

    private SongNode NodeOf(Span at, Span end, ChordSymbol chord, bool isNew, int bow, int voice, FreeBars free, bool answers)
    {
        var bar = _outline.BarAt(at);
        var task = free.Has(bar) ? TaskOf(bar) : PartTask.Plays;
        var chance = (free.Has(bar) && free.Vary ? _playing.PlayingChance(_index) : _playing.SectionChance(_index)).For("sustain").At(voice).At(bar)
            .At((at - _outline.OnsetOf(bar)).Wholes.Numerator).At((at - _outline.OnsetOf(bar)).Wholes.Denominator);
        // With the feel on bar groups, the voices only hold.
        var sings = _outline.Places[bar].Felt != FeltLevel.BarGroup;
        var resolve = isNew && sings ? ResolvesAt(bar, at, end) : null;
        return new SongNode
        {
            Onset = at,
            End = end,
            Chord = chord,
            IsNewChord = isNew,
            Bow = bow,
            Bar = bar,
            Resolve = resolve,
            Pass = sings ? PassesAt(resolve ?? at, end) : null,
            Calm = _outline.Places[bar].Felt == FeltLevel.Bar,
            Answers = answers && sings,
            Rests = task is PartTask.Rests or PartTask.Break || (task == PartTask.Thin && voice > 0),
            Up = task switch
            {
                PartTask.High => HighUp,
                PartTask.Full when _settings.Voices > 1 => voice == 0 ? -3 : 4,
                _ => 0,
            },
            Sung = [.. _tune.KeysIn(at, end)],
            Others = [.. free.Others.KeysIn(at, end)],
            Bass = free.Others.LastAt(at)?.Key,
            Chance = chance,
        };
    }

    // A suspension resolves on the first group start that leaves it time to be heard, or else on a unit.
    private Span? ResolvesAt(int bar, Span at, Span end)
    {
        var place = _outline.Places[bar];
        Span? onUnit = null;
        for (var unit = 1; unit < place.Meter.Units; unit++)
        {
            var resolves = _outline.OnsetOf(bar) + (place.Meter.Unit * unit);
            if (resolves <= at || place.Tempo.Seconds(resolves - at).ToDouble() < ShortestDissonance || end - resolves < place.Meter.Unit)
            {
                continue;
            }

            onUnit ??= resolves;
            if (place.Meter.GroupStartUnits.Contains(unit))
            {
                return resolves;
            }
        }

        return onUnit;
    }

    // A passing note is on the last unit that is no group start and leaves it time to be heard.
    private Span? PassesAt(Span from, Span end)
    {
        var bar = _outline.BarAt(end - Span.Of(1, 1024));
        var place = _outline.Places[bar];
        for (var unit = place.Meter.Units - 1; unit > 0; unit--)
        {
            var passes = _outline.OnsetOf(bar) + (place.Meter.Unit * unit);
            if (passes - from < place.Meter.Unit)
            {
                return null;
            }

            if (passes < end && place.Tempo.Seconds(end - passes).ToDouble() is var seconds && seconds >= ShortestPassing && !place.Meter.GroupStartUnits.Contains(unit))
            {
                return seconds <= LongestPassing ? passes : null;
            }
        }

        return null;
    }

    // Where the highest voice answers: in some of the tune's rests, on the unit after the tune has ended and half-way to its return.
    private HashSet<Span> Answers()
    {
        var answers = new HashSet<Span>();
        var sung = Span.Zero;
        var notes = _tune.In(Span.Zero, _outline.Length).ToList();
        if (notes.Count == 0)
        {
            return answers;
        }

        foreach (var note in notes.Append(new LineNote(_outline.Length, Span.Zero, 0, 0)))
        {
            var bar = _outline.BarAt(sung);
            var place = _outline.Places[bar];
            var from = _outline.OnsetOf(bar) + (place.Meter.Unit * new Rational((long)((sung - _outline.OnsetOf(bar)) / place.Meter.Unit).Ceiling(), 1));
            var units = (int)((note.Onset - from) / place.Meter.Unit).Floor();
            if (note.Onset > sung && units >= 2 && place.Tempo.Seconds(note.Onset - from).ToDouble() >= ShortestAnswer
                && _playing.SectionChance(_index).For("answer").At(bar).Happens(AnsweredShare))
            {
                answers.Add(from);
                answers.Add(from + (place.Meter.Unit * Math.Min(units / 2, place.Meter.Units)));
            }

            sung = Span.Max(sung, note.End);
        }

        answers.RemoveWhere(at => at <= Span.Zero || at >= _outline.Length);
        return answers;
    }

    /// <summary>The bars whose nodes are decided, while all others stay as they were.</summary>
    /// <param name="Has">True for such a bar.</param>
    /// <param name="Vary">True to play them otherwise than at the first playing; false to do what the arrangement asks.</param>
    /// <param name="Others">The keys of the bass and of earlier held parts, beside which they are decided.</param>
    private readonly record struct FreeBars(Func<int, bool> Has, bool Vary, SoundingKeys Others);
}
