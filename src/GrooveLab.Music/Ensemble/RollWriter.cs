using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Score;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Ensemble;

/// <summary>
/// Writes a roll part: notes without a gap from the first to the last bar of a section, in cells that follow the groups, run freely
/// across them, or run across and land on each bar group.
/// </summary>
/// <remarks>Common practice, no source.</remarks>
internal sealed class RollWriter
{
    private const int BaseVelocity = 54;
    private const int LowVoice = 6;

    private readonly RunOutline _outline;
    private readonly RunBand _band;
    private readonly Part _player;
    private readonly RollSettings _settings;
    private readonly int _part;
    private readonly RollGrid _grid;
    private readonly IReadOnlyList<Shape> _shapes;
    private readonly Chance _chance;
    private readonly int _limitMs;

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
        _chance = band.Chance.At(part).For("roll").For(_outline.Run.Section.Name);
    }

    private bool Fingers => _player.Instrument.Technique == Technique.Fingers;

    public void Write(BarDraft draft)
    {
        var place = draft.Place;
        var bar = place.IndexInRun;
        var onsets = _grid.OnsetsIn(bar);
        var lanes = _settings.Crossing == Crossing.Follow ? FollowingLanes(bar) : CrossingLanes(bar);
        for (var i = 0; i < onsets.Count; i++)
        {
            var end = i + 1 < onsets.Count ? onsets[i + 1] : place.Length;
            AddNote(draft, i, onsets[i], end - onsets[i], lanes[i]);
        }

        if (_grid.ThinningIn(bar) > 1)
        {
            var step = RollGrid.StepOf(place.Meter);
            var ms = place.Tempo.Seconds(step).ToDouble() * 1000;
            draft.Remark($"{_player.Name}: a roll of {Plural(step)} would come every {ms:0} ms, faster than the hand's {_limitMs} ms; "
                + $"it plays {Plural(step * _grid.ThinningIn(bar))} instead");
        }
    }

    /// <summary>The note that ends a piece.</summary>
    public static void WriteEnding(BarDraft draft, int part, Shape shape) => draft.Add(
        new NoteEvent
        {
            Part = part,
            Role = Role.Roll,
            Onset = Span.Zero,
            Length = draft.Place.Length,
            Key = shape.Notes[0].Key,
            String = shape.Notes[0].String,
            Velocity = BaseVelocity + 20,
        },
        0);

    private static string Plural(Span step)
    {
        var name = NoteValue.NameOf(step);
        return name.Contains('/') ? "notes of " + name : name + "s";
    }

    // What a bar plays depends on where it stands in its group, so that bars a group apart are alike and neighbours are not; every
    // other group ends on a figure of its own.
    private Chance FigureChance(BarPlace place)
    {
        var slot = place.GroupPlace.Size > 1 ? place.GroupPlace.Index : place.IndexInRun % 4;
        var group = place.GroupPlace.Size > 1 ? place.GroupPlace.Group : place.IndexInRun / 4;
        var turns = place.GroupPlace.Size > 1 ? place.GroupPlace.IsLast : slot == 3;
        return _chance.At(slot).At(turns ? 1 + (group % 3) : 0);
    }

    private IReadOnlyList<Lane> FollowingLanes(int bar)
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

        return RollCells.Lanes(groups, Fingers, figure.For("lanes"));
    }

    private List<Lane> CrossingLanes(int bar)
    {
        var place = _outline.Places[bar];
        var threes = place.Meter.GroupSizes.All(size => size % 3 == 0);
        var size = threes ? 4 : 3;
        var from = 0;
        var total = _grid.NotesBefore(_outline.Places.Length);
        if (_settings.Crossing == Crossing.Land)
        {
            var first = bar - place.GroupPlace.Index;
            from = _grid.NotesBefore(first);
            total = _grid.NotesBefore(first + place.GroupPlace.Size) - from;
        }

        var cells = CellStarts(total, size);
        var lanes = new List<Lane>();
        var start = _grid.NotesBefore(bar) - from;
        for (var note = start; note < start + _grid.OnsetsIn(bar).Count; note++)
        {
            var cell = cells.BinarySearch(note);
            cell = cell >= 0 ? cell : ~cell - 1;
            var length = (cell + 1 < cells.Count ? cells[cell + 1] : total) - cells[cell];
            var figure = _chance.For("cross").At((cells[cell] / (size * 4)) % 3);
            lanes.Add(RollCells.Lanes([[length]], Fingers, figure)[note - cells[cell]]);
        }

        return lanes;
    }

    // Cells of one size; what is left over goes into the last ones, so that none has a single note: ten threes and one are nine
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

    private void AddNote(BarDraft draft, int index, Span onset, Span length, Lane lane)
    {
        var place = draft.Place;
        var at = draft.BarLine + onset;
        var chord = _outline.Chords[_outline.ChordIndexAt(at)];
        var shape = _shapes[_outline.ChordIndexAt(at)];
        var unit = onset / place.Meter.Unit;
        var steps = unit.IsInteger ? AccentPlan.StepsAt(place.Meter, place.Felt, place.GroupPlace, (int)unit.Numerator) : -3;
        var carries = RollCells.Finger(lane) == 0;
        var note = lane == Lane.Drone && Drone(chord.Symbol) is { } drone
            ? drone
            : NoteOf(shape, lane, chord, onset, place);
        note = KeepClear(note, shape, chord.Symbol, draft, at, length);
        if (IsLeading(place, onset, length))
        {
            note = Leading(note);
        }

        draft.Add(
            new NoteEvent
            {
                Part = _part,
                Role = Role.Roll,
                Onset = onset,
                Length = length,
                Key = note.Key,
                String = note.String,
                Velocity = BaseVelocity + steps + (carries ? LowVoice : 0),
                Stroke = StrokeOf(index, place.IndexInRun),
                Finger = Fingers ? FingerName(lane) : null,
            },
            index);
    }

    // The low voice carries the harmony: root or third on the downbeat, another chord tone where a group starts.
    private static ShapeNote NoteOf(Shape shape, Lane lane, ChordStretch chord, Span onset, BarPlace place)
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

    // The drone is the tonic or the fifth of the key, and rests where it grinds against the chord.
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

    // A note within two semitones of what is sung gives way to the nearest other chord tone that its string (or the instrument) has.
    private ShapeNote KeepClear(ShapeNote note, Shape shape, ChordSymbol chord, BarDraft draft, Span at, Span length)
    {
        var sung = draft.Band.Clear.KeysIn(at, at + length).ToArray();
        if (sung.Length == 0 || sung.All(key => Math.Abs(key - note.Key) > 2))
        {
            return note;
        }

        var (low, high) = note.String == 0
            ? (_player.Lowest, _player.Highest)
            : (_player.Instrument.Strings[note.String - 1],
               _player.Instrument.Strings[note.String - 1] + _player.Instrument.Frets);
        var centre = shape.Centre;
        ShapeNote? best = null;
        var bestCost = double.MaxValue;
        for (var key = low; key <= high; key++)
        {
            var fits = chord.IsNoChord ? shape.Keys.Any(held => (held - key) % 12 == 0) : chord.Tones.Contains(key);
            if (!fits || sung.Any(other => Math.Abs(other - key) <= 2))
            {
                continue;
            }

            var cost = Math.Abs(key - note.Key) + (Math.Abs(key - centre) / 4);
            if (cost < bestCost)
            {
                (best, bestCost) = (note with { Key = key }, cost);
            }
        }

        return best ?? note;
    }

    private bool IsLeading(BarPlace place, Span onset, Span length) =>
        _band.LeadsOn && place.IsLastOfRun && onset + length == place.Length && onset > Span.Zero && !_outline.NextChord.IsNoChord;

    // The last note of a section leads by step to the root or third of the chord that follows.
    private ShapeNote Leading(ShapeNote note)
    {
        var next = _outline.NextChord;
        var target = Enumerable.Range(0, 12)
            .SelectMany(away => new[] { note.Key - away, note.Key + away })
            .First(key => IsRootOrThird(next, key));
        var key = _outline.Run.Key;
        foreach (var candidate in new[] { target - 1, target + 1, target - 2, target + 2 })
        {
            if (key.Contains(candidate) && CanPlay(note.String, candidate))
            {
                return note with { Key = candidate };
            }
        }

        return note;
    }

    private bool CanPlay(int onString, int key) => onString == 0
        ? key >= _player.Lowest && key <= _player.Highest
        : key >= _player.Instrument.Strings[onString - 1]
            && key <= _player.Instrument.Strings[onString - 1] + _player.Instrument.Frets;

    // Plectrum and hammers alternate strictly, over bar lines too.
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
