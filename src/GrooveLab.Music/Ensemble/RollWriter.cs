using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Ensemble;

/// <summary>Writes a roll part: continuous notes from the first to the last bar of a section, in cells that follow the groups, run freely
/// across them, or run across and realign at each bar group.</summary>
/// <remarks>Common practice, no source.</remarks>
internal sealed class RollWriter
{
    public const int BaseVelocity = 54;
    private const int LowVoice = 6;

    private readonly RunOutline _outline;
    private readonly RunBand _band;
    private readonly Part _player;
    private readonly RollSettings _settings;
    private readonly int _part;
    private readonly RollGrid _grid;
    private readonly IReadOnlyList<ChordShape> _shapes;
    private readonly Chance _chance;
    private readonly int _limitMs;
    private readonly Lane[][] _lanes;
    private readonly ShapeNote[][] _notes;

    public RollWriter(RunBand band, int part)
    {
        _band = band;
        _outline = band.Outline;
        _part = part;
        _player = band.Parts[part];
        _settings = (RollSettings)_player.Settings;
        _limitMs = _settings.HandLimitMs ?? _player.Instrument.HandLimitMs;
        _grid = new RollGrid(_outline, _limitMs);
        _shapes = band.ShapesOf(part);
        _chance = band.Playing.SectionChance(part).For("roll");
        _lanes = _settings.Crossing == Crossing.Follow ? FollowingLanes() : CrossingLanes();
        _notes = ChooseNotes();
    }

    private bool Fingers => _player.Instrument.Technique == Technique.Fingers;

    public void Write(BarDraft draft)
    {
        var place = draft.Place;
        var bar = place.IndexInRun;
        var onsets = _grid.OnsetsIn(bar);
        for (var i = 0; i < onsets.Count; i++)
        {
            var end = i + 1 < onsets.Count ? onsets[i + 1] : place.Length;
            AddNote(draft, i, onsets[i], end - onsets[i]);
        }

        if (_grid.ThinningIn(bar) > 1)
        {
            var step = RollGrid.StepOf(place.Meter);
            var ms = place.Tempo.Seconds(step).ToDouble() * 1000;
            draft.Remark($"{_player.Name}: a roll of {Plural(step)} would come every {ms:0} ms, faster than the hand's {_limitMs} ms; "
                + $"it plays {Plural(step * _grid.ThinningIn(bar))} instead");
        }
    }

    /// <summary>Writes the note that ends a piece.</summary>
    public static void WriteEnding(BarDraft draft, int part, ChordShape shape, Span ring) => WriteHit(draft, part, shape.Notes[0], ring);

    /// <summary>Writes one note of the chord at the bar line, clear of the tune, held notes and strums; nothing if none is free.</summary>
    public static void WriteClearHit(BarDraft draft, int part, int chord, Span length)
    {
        var (at, end) = (draft.BarLine, draft.BarLine + length);
        int[] sung = [.. draft.Band.Sung.KeysIn(at, end)];
        int[] held = [.. draft.Band.Held.KeysIn(at, end)];
        int[] beneath = [.. held, .. draft.Band.StrummedIn(chord)];
        var shape = draft.Band.ShapesOf(part)[chord];
        var symbol = draft.Band.Outline.Chords[chord].Symbol;
        var clear = shape.Notes.Cast<ShapeNote?>().FirstOrDefault(note =>
                Clearance.Keeps(note!.Value.Key, sung) && !held.Contains(note.Value.Key) && !Clearance.Growls(note.Value.Key, beneath))
            ?? shape.Notes.Select(note => Clearance.Move(draft.Band.Parts[part], note, shape, symbol, sung, held, beneath)).FirstOrDefault(note => note is not null);
        if (clear is { } hit)
        {
            WriteHit(draft, part, hit, length);
        }
    }

    private static void WriteHit(BarDraft draft, int part, ShapeNote note, Span length) => draft.Add(
        new NoteEvent
        {
            Part = part,
            Role = Role.Roll,
            Onset = Span.Zero,
            Length = length,
            Key = note.Key,
            String = note.String,
            Velocity = BaseVelocity + 20,
            Written = new WrittenOrigin { Pitch = draft.Spell(note.Key, Span.Zero), Onset = Span.Zero, Length = length },
        },
        0);

    private static string Plural(Span step)
    {
        return NoteValue.PluralOf(step) ?? "notes of " + NoteValue.NameOf(step);
    }

    // A bar's pattern depends on its position in its bar group, so that bars one group apart are alike and adjacent bars differ; every
    // other group ends with its own figure.
    private Chance FigureChance(BarPlace place)
    {
        var slot = place.GroupPlace.Size > 1 ? place.GroupPlace.Index : place.IndexInRun % 4;
        var group = place.GroupPlace.Size > 1 ? place.GroupPlace.Group : place.IndexInRun / 4;
        var turns = place.GroupPlace.Size > 1 ? place.GroupPlace.IsLast : slot == 3;
        return _chance.At(slot).At(turns ? 1 + (group % 3) : 0);
    }

    // Bar by bar, each joined to the one before: a hand does not start over at a bar line.
    private Lane[][] FollowingLanes()
    {
        var lanes = new Lane[_outline.Places.Length][];
        Lane? after = null;
        for (var bar = 0; bar < lanes.Length; bar++)
        {
            var place = _outline.Places[bar];
            var figure = FigureChance(place);
            var groups = new List<IReadOnlyList<int>>();
            var onsets = _grid.OnsetsIn(bar);
            for (var group = 0; group < place.Meter.GroupSizes.Count; group++)
            {
                var from = place.Meter.Unit * place.Meter.GroupStartUnits[group];
                var to = from + (place.Meter.Unit * place.Meter.GroupSizes[group]);
                var notes = onsets.Count(onset => onset >= from && onset < to);
                var cuts = RollCells.Cuts(notes);
                groups.Add(cuts[figure.At(group).For("cut").Below(cuts.Count)]);
            }

            lanes[bar] = [.. RollCells.Lanes(groups, Fingers, figure.For("lanes"), after)];
            after = lanes[bar][^1];
        }

        return lanes;
    }

    // Cells of one size from the run's start, or from each bar group's, then split into bars.
    private Lane[][] CrossingLanes()
    {
        var flat = new List<Lane>();
        var bars = _outline.Places.Length;
        var first = 0;
        while (first < bars)
        {
            // A loop may jump back inside a group that began before it.
            var end = _settings.Crossing == Crossing.Free ? bars : Math.Min(bars, first + _outline.Places[first].GroupPlace.Size);
            var threes = Enumerable.Range(first, end - first)
                .All(bar => _outline.Places[bar].Meter.GroupSizes.All(size => size % 3 == 0));
            var total = _grid.NotesBefore(end) - _grid.NotesBefore(first);
            var starts = CellStarts(total, threes ? 4 : 3);
            for (var cell = 0; cell < starts.Count; cell++)
            {
                var length = (cell + 1 < starts.Count ? starts[cell + 1] : total) - starts[cell];
                var figure = _chance.For("cross").At(cell / 4 % 3);
                flat.AddRange(RollCells.Lanes([[length]], Fingers, figure, flat.Count == 0 ? null : flat[^1]));
            }

            first = end;
        }

        return [.. Enumerable.Range(0, bars).Select(bar =>
            flat.GetRange(_grid.NotesBefore(bar), _grid.OnsetsIn(bar).Count).ToArray())];
    }

    private ShapeNote[][] ChooseNotes()
    {
        var notes = new ShapeNote[_outline.Places.Length][];
        ShapeNote? before = null;
        for (var bar = 0; bar < notes.Length; bar++)
        {
            var onsets = _grid.OnsetsIn(bar);
            notes[bar] = new ShapeNote[onsets.Count];
            for (var i = 0; i < onsets.Count; i++)
            {
                var place = _outline.Places[bar];
                var end = i + 1 < onsets.Count ? onsets[i + 1] : place.Length;
                before = ChooseNote(place, onsets[i], end, _lanes[bar][i], before);
                notes[bar][i] = before.Value;
            }
        }

        return notes;
    }

    private ShapeNote ChooseNote(BarPlace place, Span onset, Span end, Lane lane, ShapeNote? before)
    {
        var at = _outline.OnsetOf(place.IndexInRun) + onset;
        var index = _outline.Chords.IndexAt(at);
        var (chord, shape) = (_outline.Chords[index], _shapes[index]);
        var sung = _band.Sung.KeysIn(at, at + (end - onset)).ToArray();
        var note = lane == Lane.Drone && Drone(chord.Symbol) is { } drone ? drone : NoteOf(shape, lane, chord, onset, place);
        var beneath = Beneath(index, at, end - onset);
        if (!Clearance.Keeps(note.Key, sung) || Clearance.Growls(note.Key, beneath))
        {
            note = Clearance.Move(_player, note, shape, chord.Symbol, sung, [], beneath) ?? Clearance.Elsewhere(_player, note, 0, shape, chord.Symbol, sung, [], beneath)
                ?? Clearance.Elsewhere(_player, note, 0, shape, chord.Symbol, [], [], beneath) ?? note;
        }

        if (before is { } last && Repeats(note, last, at))
        {
            // The nearest other note of the shape, on another string if there are strings.
            note = shape.Notes.Where(other => !Repeats(other, last, at) && Clearance.Keeps(other.Key, sung) && !Clearance.Growls(other.Key, beneath))
                .OrderBy(other => Math.Abs(other.Key - note.Key)).Cast<ShapeNote?>().FirstOrDefault()
                ?? (Fingers ? null : Clearance.Move(_player, note, shape, chord.Symbol, sung, [last.Key], beneath))
                ?? Clearance.Elsewhere(_player, note, Fingers ? last.String : 0, shape, chord.Symbol, sung, [last.Key], beneath)
                // If not all constraints fit, a clash with the tune is preferred to notes that the hand cannot play.
                ?? Clearance.Elsewhere(_player, note, Fingers ? last.String : 0, shape, chord.Symbol, [], [last.Key], beneath)
                ?? Clearance.Elsewhere(_player, note, Fingers ? last.String : 0, shape, chord.Symbol, [], [], []) ?? note;
        }

        return IsLeading(place, onset, end - onset) ? Leading(note, sung, beneath) : note;
    }

    // The low keys of other parts there.
    private List<int> Beneath(int chord, Span at, Span length) => [.. _band.Held.KeysIn(at, at + length), .. _band.StrummedIn(chord)];

    // Cells of one size; the remainder is spread over the last cells, so that none has a single note: ten threes and one become nine
    // threes and a four.
    private static List<int> CellStarts(int total, int size)
    {
        var starts = new List<int>();
        var at = 0;
        while (at < total)
        {
            starts.Add(at);
            var left = total - at;
            at += left switch
            {
                _ when left <= 4 && left != size => left,
                _ when size == 4 && left == 5 => 3,
                _ when size == 3 && left == 5 => 3,
                _ => size,
            };
        }

        return starts;
    }

    private void AddNote(BarDraft draft, int index, Span onset, Span length)
    {
        var place = draft.Place;
        var unit = onset / place.Meter.Unit;
        var steps = unit.IsInteger ? AccentPlan.StepsAt(place.Meter, place.Felt, place.GroupPlace, (int)unit.Numerator) : -3;
        var lane = _lanes[place.IndexInRun][index];
        var note = _notes[place.IndexInRun][index];
        var carries = RollCells.Finger(lane) == 0;
        draft.Add(
            new NoteEvent
            {
                Part = _part,
                Role = Role.Roll,
                Onset = onset,
                Length = length,
                Key = note.Key,
                String = note.String,
                Velocity = BaseVelocity + draft.Evenness + steps + (carries ? LowVoice : 0),
                Stroke = StrokeOf(index, place.IndexInRun),
                Finger = Fingers ? FingerName(lane) : null,
                Written = new WrittenOrigin { Pitch = draft.Spell(note.Key, onset), Onset = onset, Length = length },
            },
            index);
    }

    // The low voice carries the harmony: root or third on the downbeat, another chord tone on a group start.
    private static ShapeNote NoteOf(ChordShape shape, Lane lane, ChordSpan chord, Span onset, BarPlace place)
    {
        var notes = shape.Notes;
        switch (lane)
        {
            case Lane.Middle:
                return notes[Math.Max(0, notes.Count - 2)];
            case Lane.High:
                return notes[^1];
        }

        var lows = Math.Max(1, notes.Count - 2);
        if (onset == Span.Zero)
        {
            foreach (var note in notes.Take(lows))
            {
                if (IsRootOrThird(chord.Symbol, note.Key))
                {
                    return note;
                }
            }
        }

        var units = onset / place.Meter.Unit;
        var onStart = units.IsInteger && place.Meter.GroupStartUnits.Contains((int)units.Numerator);
        return notes[onStart && onset > Span.Zero ? lows - 1 : 0];
    }

    private static bool IsRootOrThird(ChordSymbol chord, int key)
    {
        if (chord.IsNoChord)
        {
            return true;
        }

        var pitchClass = key % 12;
        return chord.Root.PitchClass == pitchClass || chord.Tones.Third?.PitchClass == pitchClass;
    }

    // The drone is the tonic or the fifth of the key, and rests when it clashes with the chord.
    private ShapeNote? Drone(ChordSymbol chord)
    {
        var key = _outline.Run.Key;
        var tonic = key.Tonic.PitchClass;
        var fifth = (tonic + 7) % 12;
        if (_player.Instrument.ShortDrone)
        {
            var open = _player.Instrument.Strings[0];
            return (open % 12 == tonic || open % 12 == fifth) && Agrees(chord, open) ? new ShapeNote(1, open) : null;
        }

        if (_player.Instrument.Strings.Count > 0)
        {
            return null;
        }

        for (var pitch = _player.Highest; pitch > _player.Highest - 12 && pitch >= _player.Lowest; pitch--)
        {
            if ((pitch % 12 == tonic || pitch % 12 == fifth) && Agrees(chord, pitch))
            {
                return new ShapeNote(0, pitch);
            }
        }

        return null;
    }

    private bool Agrees(ChordSymbol chord, int key) =>
        chord.IsNoChord || chord.Tones.Fit(key, _outline.Run.Key) is PitchFit.ChordTone or PitchFit.ScaleTone;

    // Fingers never repeat a string; only hammers, and seldom, strike the same note twice in a row.
    private bool Repeats(ShapeNote note, ShapeNote last, Span at) =>
        (Fingers && note.String != 0 && note.String == last.String)
        || (note.Key == last.Key && !(_player.Instrument.Technique == Technique.Hammers && _chance.At(at.Wholes.Numerator).At(at.Wholes.Denominator).For("again").Happens(0.1)));

    private bool IsLeading(BarPlace place, Span onset, Span length) =>
        _band.LeadsOn && place.IsLastOfRun && onset + length == place.Length && onset > Span.Zero && !_outline.NextChord.IsNoChord;

    // The last note of a section leads by step to the root or third of the next chord.
    private ShapeNote Leading(ShapeNote note, int[] sung, List<int> beneath)
    {
        var next = _outline.NextChord;
        var target = Enumerable.Range(0, 12)
            .SelectMany(away => new[] { note.Key - away, note.Key + away })
            .First(key => IsRootOrThird(next, key));
        var key = _outline.Run.Key;
        foreach (var candidate in new[] { target - 1, target + 1, target - 2, target + 2 })
        {
            if (key.Contains(candidate) && Clearance.Keeps(candidate, sung) && !Clearance.Growls(candidate, beneath) && CanPlay(note.String, candidate))
            {
                return note with { Key = candidate };
            }
        }

        return note;
    }

    private bool CanPlay(int onString, int key)
    {
        var (low, high) = Clearance.RangeOf(_player, onString);
        return key >= low && key <= high;
    }

    // Plectrum and hammers alternate strictly, also across bar lines.
    private Stroke StrokeOf(int index, int bar)
    {
        var even = (_grid.NotesBefore(bar) + index) % 2 == 0;
        return _player.Instrument.Technique switch
        {
            Technique.Plectrum => even ? Stroke.Down : Stroke.Up,
            Technique.Hammers => even ? Stroke.Right : Stroke.Left,
            _ => Stroke.None,
        };
    }

    private static string FingerName(Lane lane) => RollCells.Finger(lane) switch
    {
        0 => "thumb",
        1 => "index",
        _ => "middle",
    };
}
