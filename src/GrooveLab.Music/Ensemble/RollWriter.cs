using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Ensemble;

/// <summary>Writes a roll part: continuous notes from the first to the last bar of a section, a riff in cells that follow the groups, run
/// freely across them, or run across and realign at each bar group. A note rings until its string is struck again.</summary>
/// <remarks>Common practice, no source.</remarks>
internal sealed class RollWriter
{
    public const int BaseVelocity = 54;
    private const int LowVoice = 6;

    /// <summary>Steps of velocity more on every note where the units are felt: what the low voice gives the bar as a whole.</summary>
    private const int EvenVoice = 2;

    /// <summary>Steps of velocity more on the group starts of a full roll, or on its units where they are felt.</summary>
    private const int FullAccent = 5;
    private const int EvenFullAccent = 3;

    private const int Octave = 12;

    /// <summary>Half steps between the centres of pulse and roll from which they are told apart by register.</summary>
    private const int ApartInRegister = 5;

    /// <summary>The same with room for strokes that leave strings out.</summary>
    private const int SafelyApart = ApartInRegister + 3;

    // Costs of notes that replace a planned one, against half a point for a half step away from it. Common practice, no source.
    private const double WrongHand = 5;
    private const double WrongTone = 3;
    private const double TooHigh = 0.5;
    private const double WrongRepeat = 12;
    private const double WrongWay = 10;
    private const double WrongSkip = 7;
    private const double WrongStep = 5;
    private const double Unplayable = 1000;

    private readonly RunOutline _outline;
    private readonly RunBand _band;
    private readonly Part _player;
    private readonly RollSettings _settings;
    private readonly int _part;
    private readonly RollGrid _grid;
    private readonly IReadOnlyList<ChordShape> _shapes;
    private readonly Chance _chance;
    private readonly int _limitMs;
    private readonly RollStep[][] _steps;
    private readonly int[] _shifts;
    private readonly ShapeNote[][] _notes;

    // The strings struck beside the notes of each bar that has been asked for. Two threads may both make them: they are the same.
    private readonly ShapeNote?[]?[] _doubles;

    public RollWriter(RunBand band, int part)
    {
        _band = band;
        _outline = band.Outline;
        _part = part;
        _player = band.Parts[part];
        _settings = (RollSettings)_player.Settings;
        _limitMs = _settings.HandLimitMs ?? _player.Instrument.HandLimitMs;
        _grid = new RollGrid(_outline, _limitMs, band.Swing, bar => band.Playing.TaskOf(part, bar));
        _shapes = band.ShapesOf(part);
        _chance = band.Playing.SectionChance(part).For("roll");
        var rungs = Math.Max(1, _shapes.Min(shape => shape.Notes.Count));
        _steps = new RollRiff(
            _outline, _grid, band.Playing, part, _player.Instrument.Technique, rungs, _settings.Crossing,
            bar => WhenNew(bar)?._steps[bar]).Bars;
        _shifts = new int[_outline.Places.Length];
        _notes = ChooseNotes();
        _doubles = new ShapeNote?[]?[_notes.Length];
    }

    private bool Fingers => _player.Instrument.Technique == Technique.Fingers;

    public void Write(BarDraft draft)
    {
        var place = draft.Place;
        var bar = place.IndexInRun;
        var onsets = _grid.OnsetsIn(bar);
        for (var i = 0; i < onsets.Count; i++)
        {
            AddNote(draft, i);
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
        var sung = draft.Band.Sung.KeysIn(at, end);
        var held = draft.Band.Held.KeysIn(at, end);
        var beneath = held | draft.Band.StrummedIn(chord);
        var shape = draft.Band.ShapesOf(part)[chord];
        var symbol = draft.Band.Outline.Chords[chord].Symbol;
        // Alone, the root or the third says the chord.
        var clear = shape.Notes.OrderByDescending(note => IsRootOrThird(symbol, note.Key)).Cast<ShapeNote?>().FirstOrDefault(note =>
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

    private ShapeNote[][] ChooseNotes()
    {
        var notes = new ShapeNote[_outline.Places.Length][];
        ShapeNote? before = null;
        for (var bar = 0; bar < notes.Length; bar++)
        {
            if (Kept(bar, before) is { } kept && !IsThird(notes, bar, kept))
            {
                notes[bar] = kept;
                before = kept is [.., var end] ? end : before;
                continue;
            }

            _shifts[bar] = _band.Playing.TaskOf(_part, bar) == PartTask.High ? Octave : 0;
            notes[bar] = ChooseNotes(bar, before, _shifts[bar]);
            var apart = Apart(bar, notes[bar]);
            foreach (var shift in apart < SafelyApart ? new[] { Octave, -Octave } : [])
            {
                var other = ChooseNotes(bar, before, shift);
                if (Apart(bar, other) is var farther && farther > apart)
                {
                    (notes[bar], _shifts[bar], apart) = (other, shift, farther);
                }
            }

            if (IsThird(notes, bar, notes[bar]) || IsPlain(notes[bar]))
            {
                Turn(notes[bar], bar);
            }

            before = notes[bar] is [.., var last] ? last : before;
        }

        return notes;
    }

    // True for the same keys a third time: the strings left no room for what the riff has otherwise.
    private static bool IsThird(ShapeNote[][] notes, int bar, ShapeNote[] made) =>
        bar > 1 && made.Length > 2 && IsAgain(made, notes[bar - 1]) && IsAgain(made, notes[bar - 2]);

    // True for two keys in turn and nothing else, all through a bar.
    private static bool IsPlain(ShapeNote[] notes) => notes.Length > 3
        && Enumerable.Range(2, notes.Length - 2).All(i => notes[i].Key == notes[i - 2].Key) && notes[0].Key != notes[1].Key;

    private static bool IsAgain(ShapeNote[] one, ShapeNote[] two) => one.Select(note => note.Key).SequenceEqual(two.Select(note => note.Key));

    // Has one note inside the bar go elsewhere, the riff's way if there is one.
    private void Turn(ShapeNote[] notes, int bar)
    {
        var inner = Enumerable.Range(1, notes.Length - 2).SelectMany(i => Choices(notes, bar, i, _shifts[bar])
            .Where(other => other.Key != notes[i].Key && other.Key != notes[i - 1].Key && other.Key != notes[i + 1].Key
                && !(Fingers && other.String > 0 && (other.String == notes[i - 1].String || other.String == notes[i + 1].String)))
            .Select(other => (Index: i, Note: other)));
        var plain = notes.ToArray();
        var least = double.MaxValue;
        (int Index, ShapeNote Note)? best = null;
        foreach (var (index, note) in inner.ToArray())
        {
            notes[index] = note;
            var cost = Away(note, plain[index]) + (WrongWay * WrongWays(notes, bar, index, index + 1));
            notes[index] = plain[index];
            if (cost < least)
            {
                (best, least) = ((index, note), cost);
            }
        }

        if (best is { } found)
        {
            notes[found.Index] = found.Note;
        }
    }

    private RollWriter? WhenNew(int bar) => _band.WhenNew(_part, bar)?.RollOf(_part);

    // The notes of a bar when the part first had the same task there, if it is not varied and they still fit; null otherwise.
    private ShapeNote[]? Kept(int bar, ShapeNote? before)
    {
        if (_band.Playing.IsVaried(_part, bar) || WhenNew(bar) is not { } first
            || !first._steps[bar].SequenceEqual(_steps[bar]) || !first._grid.OnsetsIn(bar).SequenceEqual(_grid.OnsetsIn(bar)))
        {
            return null;
        }

        var notes = first._notes[bar];
        for (var i = 0; i < notes.Length; i++)
        {
            var (onset, end) = (_grid.OnsetsIn(bar)[i], EndOf(bar, i));
            var at = _outline.OnsetOf(bar) + onset;
            var chord = _outline.Chords.IndexAt(at);
            var sung = _band.Sung.KeysIn(at, at + (end - onset));
            if (!Clearance.Keeps(notes[i].Key, sung)
                || Clearance.Growls(notes[i].Key, Beneath(chord, at, end - onset))
                || (i == 0 && before is { } last && Repeats(notes[i], last, at))
                || IsLeading(_outline.Places[bar], onset, end - onset) != first.IsLeading(first._outline.Places[bar], onset, end - onset)
                || (IsLeading(_outline.Places[bar], onset, end - onset) && !_outline.NextChord.Equals(first._outline.NextChord)))
            {
                return null;
            }
        }

        _shifts[bar] = first._shifts[bar];

        // Pulse and roll together stay apart in any case.
        return Apart(bar, notes) >= SafelyApart ? notes : null;
    }

    private ShapeNote[] ChooseNotes(int bar, ShapeNote? before, int shift)
    {
        var notes = new ShapeNote[_grid.OnsetsIn(bar).Count];
        var start = before;
        for (var i = 0; i < notes.Length; i++)
        {
            before = ChooseNote(bar, i, before, shift);
            notes[i] = before.Value;
        }

        for (var i = 1; i < notes.Length; i++)
        {
            if (WrongWays(notes, bar, i, i) > 0)
            {
                Mend(notes, bar, i, start, shift);
            }
        }

        if (Fingers)
        {
            TurnFingers(notes, bar, shift);
        }

        return notes;
    }

    // The direction of the riff into a note of its bar: 1 up, -1 down, 0 for none.
    private int WayTo(int bar, int index) =>
        index == 0 ? 0 : Math.Sign(_steps[bar][index].Height(Fingers) - _steps[bar][index - 1].Height(Fingers));

    // True when plectrum or hammers stay on their string and step.
    private bool IsStep(int bar, int index) => !Fingers && _steps[bar][index].Rung == _steps[bar][index - 1].Rung;

    // The moves into some notes that do not go the way of the riff.
    private int WrongWays(ShapeNote[] notes, int bar, int from, int to)
    {
        var wrong = 0;
        for (var i = Math.Max(1, from); i <= Math.Min(to, notes.Length - 1); i++)
        {
            wrong += WayTo(bar, i) is var way && way != 0 && Math.Sign(notes[i].Key - notes[i - 1].Key) != way ? 1 : 0;
        }

        return wrong;
    }

    // Chooses a note and the one before it again, so that the line goes the way of the riff: a note that leaves no room for the next one is
    // known too late. The downbeat stays a root or third, and a note that leads on stays.
    private void Mend(ShapeNote[] notes, int bar, int index, ShapeNote? before, int shift)
    {
        var place = _outline.Places[bar];
        if (IsLeading(place, _grid.OnsetsIn(bar)[index], EndOf(bar, index) - _grid.OnsetsIn(bar)[index]))
        {
            return;
        }

        var (first, second) = (notes[index - 1], notes[index]);
        var (best, least) = ((first, second), CostHere());
        var seconds = Choices(notes, bar, index, shift);
        var symbol = _outline.Chords[_outline.Chords.IndexAt(_outline.OnsetOf(bar))].Symbol;
        var firsts = Choices(notes, bar, index - 1, shift)
            .Where(one => index > 1 || one == first || (_grid.OnsetsIn(bar)[0] == Span.Zero && IsRootOrThird(symbol, one.Key) && _steps[bar][0].Turn == 0));
        foreach (var one in firsts)
        {
            notes[index - 1] = one;
            foreach (var two in seconds)
            {
                notes[index] = two;
                if (CostHere() is var cost && cost < least)
                {
                    (best, least) = ((one, two), cost);
                }
            }
        }

        (notes[index - 1], notes[index]) = best;

        double CostHere()
        {
            var cost = Away(notes[index - 1], first) + Away(notes[index], second) + (WrongWay * WrongWays(notes, bar, index - 1, index + 1));
            for (var i = Math.Max(1, index - 1); i <= Math.Min(index + 1, notes.Length - 1); i++)
            {
                cost += Fingers && notes[i].String > 0 && notes[i].String == notes[i - 1].String ? Unplayable : 0;
                cost += notes[i].Key == notes[i - 1].Key ? WrongRepeat : 0;
                cost += IsStep(bar, i) && Math.Abs(notes[i].Key - notes[i - 1].Key) > 2 ? WrongStep : 0;
                cost += _player.Instrument.Technique == Technique.Plectrum ? WrongSkip * Math.Max(0, Math.Abs(notes[i].String - notes[i - 1].String) - 1) : 0;
            }

            return cost + (index == 1 && before is { } last && Repeats(notes[0], last, _outline.OnsetOf(bar)) ? Unplayable : 0)
                + (index == 1 && _player.Instrument.Technique == Technique.Plectrum && before is { } end ? WrongSkip * Math.Max(0, Math.Abs(notes[0].String - end.String) - 1) : 0);
        }
    }

    private static double Away(ShapeNote note, ShapeNote planned) =>
        (0.3 * Math.Abs(note.Key - planned.Key)) + (0.5 * Math.Abs(note.String - planned.String));

    // The note itself, the free chord tones in the hand and, where the riff turns, the free steps beside them.
    private List<ShapeNote> Choices(ShapeNote[] notes, int bar, int index, int shift)
    {
        var (onset, end) = (_grid.OnsetsIn(bar)[index], EndOf(bar, index));
        var at = _outline.OnsetOf(bar) + onset;
        var chordIndex = _outline.Chords.IndexAt(at);
        var shape = Shifted(_shapes[chordIndex], shift);
        var sung = _band.Sung.KeysIn(at, at + (end - onset));
        var beneath = Beneath(chordIndex, at, end - onset);
        var tones = ChordTones(_outline.Chords[chordIndex].Symbol, shape, null)
            .Where(note => IsFree(note, sung, beneath) && InHand(note, shape) && note.Key >= _player.Lowest && note.Key <= _player.Highest);
        var choices = new List<ShapeNote> { notes[index] };
        choices.AddRange(tones);
        if (_steps[bar][index].Turn != 0 && !Fingers)
        {
            choices.AddRange(choices.SelectMany(note => Turns(note, note.Key, _steps[bar][index].Turn, _outline.Chords[chordIndex].Symbol, sung, beneath)).Where(note => InHand(note, shape)).ToArray());
        }

        return choices;
    }

    private static bool IsFree(ShapeNote note, KeySet sung, KeySet beneath) => Clearance.Keeps(note.Key, sung) && !Clearance.Growls(note.Key, beneath);

    private ShapeNote ChooseNote(int bar, int index, ShapeNote? before, int shift)
    {
        var place = _outline.Places[bar];
        var step = _steps[bar][index];
        var (onset, end) = (_grid.OnsetsIn(bar)[index], EndOf(bar, index));
        var at = _outline.OnsetOf(bar) + onset;
        var chordIndex = _outline.Chords.IndexAt(at);
        var (chord, shape) = (_outline.Chords[chordIndex], Shifted(_shapes[chordIndex], shift));
        var sung = _band.Sung.KeysIn(at, at + (end - onset));
        var note = step.Lane == Lane.Drone && Drone(chord.Symbol) is { } drone ? drone : NoteOf(shape, step, chord, onset, place);
        var beneath = Beneath(chordIndex, at, end - onset);

        var way = WayTo(bar, index);
        if (step.Turn != 0 && !Fingers)
        {
            var turned = Turns(note, note.Key, step.Turn, chord.Symbol, sung, beneath).Where(other => other.Key != before?.Key)
                .OrderBy(other => before is { } last && way != 0 && Math.Sign(other.Key - last.Key) != way)
                .Cast<ShapeNote?>().FirstOrDefault();
            if (turned is { } found)
            {
                return found;
            }
        }

        if (!IsFree(note) || (before is { } last && (Repeats(note, last, at) || (way != 0 && Math.Sign(note.Key - last.Key) != way))))
        {
            note = Instead(note, before, way, onset == Span.Zero, chord.Symbol, shape, IsFree)
                // If not all constraints fit, a clash with the tune is preferred to notes that the hand cannot play.
                ?? Instead(note, before, way, onset == Span.Zero, chord.Symbol, shape, other => !Clearance.Growls(other.Key, beneath))
                ?? Instead(note, before, way, onset == Span.Zero, chord.Symbol, shape, _ => true)
                ?? note;
        }

        return IsLeading(place, onset, end - onset) ? Leading(note, sung, beneath) : note;

        bool IsFree(ShapeNote other) => Clearance.Keeps(other.Key, sung) && !Clearance.Growls(other.Key, beneath);
    }

    // The chord tone that does least harm: near the planned note and its string, in the hand, without a skip of the plectrum, and moving the
    // way the riff does. Fingers never take the string of the note before.
    private ShapeNote? Instead(
        ShapeNote planned, ShapeNote? before, int way, bool carries, ChordSymbol chord, ChordShape shape, Func<ShapeNote, bool> isFree)
    {
        ShapeNote? best = null;
        var least = double.MaxValue;
        foreach (var other in ChordTones(chord, shape, before?.String).Where(isFree))
        {
            var cost = CostOf(other, planned, before, way, carries, chord, shape);
            if (cost < least)
            {
                (best, least) = (other, cost);
            }
        }

        return best;
    }

    // The chord tones on the strings, without the short drone; fingers take another string than the one before.
    private IEnumerable<ShapeNote> ChordTones(ChordSymbol chord, ChordShape shape, int? before)
    {
        var strings = _player.Instrument.Strings.Count == 0 ? [0]
            : Enumerable.Range(1, _player.Instrument.Strings.Count).Where(other => !(other == 1 && _player.Instrument.ShortDrone));
        foreach (var onString in strings.Where(other => !Fingers || other == 0 || other != before))
        {
            var (low, high) = Clearance.RangeOf(_player, onString);
            for (var key = low; key <= high; key++)
            {
                if (chord.IsNoChord ? shape.Keys.Any(held => (held - key) % 12 == 0) : chord.Tones.Contains(key))
                {
                    yield return new ShapeNote(onString, key);
                }
            }
        }
    }

    private double CostOf(ShapeNote other, ShapeNote planned, ShapeNote? before, int way, bool carries, ChordSymbol chord, ChordShape shape)
    {
        var cost = (0.5 * Math.Abs(other.Key - planned.Key))
            + (2.0 * Math.Abs(other.String - planned.String))
            + (1.0 * Math.Max(0, Math.Max(_player.Lowest - other.Key, other.Key - _player.Highest)))
            + (InHand(other, shape) || InHand(other, planned) ? 0 : WrongHand)
            + (carries && !IsRootOrThird(chord, other.Key) ? WrongTone : 0)
            + (carries ? TooHigh * Math.Max(0, other.Key - planned.Key) : 0);
        if (before is { } last)
        {
            cost += (other.Key == last.Key ? WrongRepeat : 0)
                + (way != 0 && Math.Sign(other.Key - last.Key) != way ? WrongWay : 0)
                + (_player.Instrument.Technique == Technique.Plectrum ? WrongSkip * Math.Max(0, Math.Abs(other.String - last.String) - 1) : 0);
        }

        return cost;
    }

    private Span EndOf(int bar, int index)
    {
        var onsets = _grid.OnsetsIn(bar);
        return index + 1 < onsets.Count ? onsets[index + 1] : _outline.Places[bar].Length;
    }

    // A third that is not of the key leads somewhere; the key's own step beside it would contradict it.
    private bool RubsAlteredThird(int key, ChordSymbol chord) =>
        chord.Tones.Third is { } third && !_outline.Run.Key.Contains(third.PitchClass) && BassSteps.Grinds(key, chord);

    // The scale steps beside a key, on the note's own string; those in the wanted direction first.
    private IEnumerable<ShapeNote> Turns(ShapeNote note, int beside, int direction, ChordSymbol chord, KeySet sung, KeySet beneath)
    {
        foreach (var away in new[] { direction, 2 * direction, -direction, -2 * direction })
        {
            var key = beside + away;
            if (_outline.Run.Key.Contains(key) && !RubsAlteredThird(key, chord) && CanPlay(note.String, key) && Clearance.Keeps(key, sung) && !Clearance.Growls(key, beneath))
            {
                yield return note with { Key = key };
            }
        }
    }

    // Fingers leave the string at once, so their scale steps lead to the note after or come from the one before, on a string of their own.
    private void TurnFingers(ShapeNote[] notes, int bar, int shift)
    {
        var place = _outline.Places[bar];
        for (var i = 1; i + 1 < notes.Length; i++)
        {
            if (_steps[bar][i].Turn == 0)
            {
                continue;
            }

            var (onset, end) = (_grid.OnsetsIn(bar)[i], EndOf(bar, i));
            var at = _outline.OnsetOf(bar) + onset;
            var index = _outline.Chords.IndexAt(at);
            var sung = _band.Sung.KeysIn(at, at + (end - onset));
            var beneath = Beneath(index, at, end - onset);
            var shape = Shifted(_shapes[index], shift);
            var turned = new[] { notes[i + 1], notes[i - 1] }
                .SelectMany(beside => OnStrings(notes, i).SelectMany(note => Turns(note, beside.Key, _steps[bar][i].Turn, _outline.Chords[index].Symbol, sung, beneath)))
                .Where(other => InHand(other, shape) && other.Key != notes[i - 1].Key && other.Key != notes[i + 1].Key && !Trills(notes, i, other))
                .OrderBy(other => Wrong(i, other))
                .ThenBy(other => Math.Abs(other.String - notes[i].String))
                .Cast<ShapeNote?>().FirstOrDefault();
            notes[i] = turned ?? notes[i];
        }

        int Wrong(int index, ShapeNote other)
        {
            var into = WayTo(bar, index);
            var on = WayTo(bar, index + 1);
            return (into != 0 && Math.Sign(other.Key - notes[index - 1].Key) != into ? 1 : 0)
                + (on != 0 && Math.Sign(notes[index + 1].Key - other.Key) != on ? 1 : 0);
        }
    }

    // True for a step that goes to and fro with the chord tone beside it: heard once it leads, again and again it takes the chord's place.
    private static bool Trills(ShapeNote[] notes, int index, ShapeNote other) =>
        (index >= 3 && notes[index - 2].Key == other.Key && (notes[index - 1].Key == notes[index - 3].Key || notes[index - 1].Key == notes[index + 1].Key))
        || (index >= 4 && notes[index - 4].Key == other.Key && notes[index - 1].Key == notes[index - 3].Key && notes[index - 1].Key == notes[index + 1].Key);

    // A note on its own string, and on the others that the notes beside it leave free.
    private IEnumerable<ShapeNote> OnStrings(ShapeNote[] notes, int index) => notes[index].String == 0
        ? [notes[index]]
        : Enumerable.Range(1, _player.Instrument.Strings.Count)
            .Where(other => other == notes[index].String
                || (other != notes[index - 1].String && other != notes[index + 1].String && !(other == 1 && _player.Instrument.ShortDrone)))
            .Select(other => notes[index] with { String = other });

    // Open, or at a fret that the hand reaches from the shape.
    private bool InHand(ShapeNote note, ChordShape shape)
    {
        if (note.String == 0 || FretOf(note) == 0)
        {
            return true;
        }

        var (lowest, highest) = (FretOf(note), FretOf(note));
        foreach (var other in shape.ByString)
        {
            if (other.String > 0 && FretOf(other) is var fret && fret > 0)
            {
                (lowest, highest) = (Math.Min(lowest, fret), Math.Max(highest, fret));
            }
        }

        return highest - lowest < Reach;
    }

    // The same from a single note.
    private bool InHand(ShapeNote note, ShapeNote from) => note.String == 0 || FretOf(note) == 0
        || from.String == 0 || FretOf(from) <= 0 || Math.Abs(FretOf(note) - FretOf(from)) < Reach;

    private int Reach => Math.Max(_player.Instrument.Stretch, 5);

    private int FretOf(ShapeNote note) => note.Key - _player.Instrument.Strings[note.String - 1];

    // High where the arrangement asks for it, and an octave up or down where pulse and roll strike together in the same register.
    private ChordShape Shifted(ChordShape shape, int shift) => shift == 0 ? shape : new([.. shape.Notes.Select(note => Shifted(note, shift) ?? note)]);

    // On the same string; null if it has no such note.
    private ShapeNote? Shifted(ShapeNote note, int shift)
    {
        var key = note.Key + shift;
        return note.String == 0
            ? key >= _player.Instrument.Lowest && key <= _player.Instrument.Highest ? note with { Key = key } : null
            : CanPlay(note.String, key) ? note with { Key = key } : null;
    }

    // No note between the units: the pulse strikes with each.
    private bool IsOnTheUnits(int bar) => _grid.OnsetsIn(bar).Count <= _outline.Places[bar].Meter.Units;

    // Half steps between the centres of the strums and of a bar of the roll; many where other things tell them apart.
    private double Apart(int bar, ShapeNote[] notes)
    {
        if (notes.Length == 0 || !IsOnTheUnits(bar))
        {
            return double.MaxValue;
        }

        // From the nearest player: one in another register is heard apart. Most strokes but those on the bar line leave out the lowest string.
        var middle = notes.Average(note => note.Key);
        return Enumerable.Range(0, _band.Parts.Count)
            .Where(part => _band.Parts[part].Role == Role.Pulse && _band.Plays(part))
            .Select(part => _grid.OnsetsIn(bar).SelectMany(onset =>
            {
                var keys = _band.ShapesOf(part)[_outline.Chords.IndexAt(_outline.OnsetOf(bar) + onset)].Keys;
                return onset == Span.Zero || keys.Count < 3 ? keys : keys.Skip(1);
            }).ToArray())
            .Where(strummed => strummed.Length > 0)
            .Select(strummed => Math.Abs(strummed.Average() - middle))
            .DefaultIfEmpty(double.MaxValue).Min();
    }

    // Until its string (its key, without strings) is struck again, the harmony leaves it, the tune comes near, or a bar has passed. A scale
    // step gives way after the next note.
    private Span Ring(int bar, int index, ShapeNote note)
    {
        var start = _outline.OnsetOf(bar) + _grid.OnsetsIn(bar)[index];
        var next = _outline.OnsetOf(bar) + EndOf(bar, index);
        var chord = _outline.Chords.IndexAt(start);
        var end = Span.Min(start + _outline.Places[bar].Length, _outline.Length);
        if (!Belongs(note.Key, _outline.Chords[chord].Symbol))
        {
            end = Span.Min(end, next + (next - start));
        }

        while (_outline.Chords[chord].End < end)
        {
            var line = _outline.Chords[chord].End;
            chord++;
            if (!Belongs(note.Key, _outline.Chords[chord].Symbol) || Clearance.Growls(note.Key, _band.StrummedIn(chord)))
            {
                end = line;
            }
        }

        end = Before(_band.Sung, Clearance.Around(note.Key), start, end, next);
        end = Before(_band.Held, Clearance.GrowlingWith(note.Key), start, end, next);

        var (b, i) = (bar, index + 1);
        while (b < _notes.Length)
        {
            for (; i < _notes[b].Length; i++)
            {
                var at = _outline.OnsetOf(b) + _grid.OnsetsIn(b)[i];
                if (at >= end)
                {
                    return end - start;
                }

                if (Strikes(b, i, note))
                {
                    return at - start;
                }
            }

            (b, i) = (b + 1, 0);
        }

        return end - start;
    }

    // The end of a note that gives way to some keys of others, but sounds until the next note.
    private static Span Before(SoundingKeys others, KeySet keys, Span start, Span end, Span next)
    {
        foreach (ref readonly var other in others.Near(start, end))
        {
            if (other.End > start && keys.Contains(other.Key))
            {
                end = Span.Min(end, Span.Max(other.Onset, next));
            }
        }

        return end;
    }

    private bool Strikes(int bar, int index, ShapeNote note)
    {
        var other = _notes[bar][index];
        return other.Key == note.Key || (note.String > 0 && other.String == note.String)
            || (Double(bar, index) is { } beside && (beside.String == note.String || beside.Key == note.Key));
    }

    private static bool Belongs(int key, ChordSymbol chord) => !chord.IsNoChord && chord.Tones.Contains(key);

    // A full roll, and one without notes between the units, strikes the next string too where a group starts: one stroke of the plectrum, inside the hand.
    private ShapeNote? Double(int bar, int index)
    {
        var doubles = _doubles[bar];
        if (doubles is null)
        {
            doubles = new ShapeNote?[_notes[bar].Length];
            for (var i = 0; i < doubles.Length; i++)
            {
                doubles[i] = DoubleOf(bar, i);
            }

            _doubles[bar] = doubles;
        }

        return doubles[index];
    }

    private ShapeNote? DoubleOf(int bar, int index)
    {
        if (_player.Instrument.Technique != Technique.Plectrum || (_band.Playing.TaskOf(_part, bar) != PartTask.Full && !IsOnTheUnits(bar)))
        {
            return null;
        }

        var meter = _outline.Places[bar].Meter;
        var onset = _grid.OnsetsIn(bar)[index];
        var unit = onset / meter.Unit;
        if (IsOnTheUnits(bar) ? index % 2 != 0 : !unit.IsInteger || !meter.GroupStartUnits.Contains((int)unit.Numerator))
        {
            return null;
        }

        var note = _notes[bar][index];
        var at = _outline.OnsetOf(bar) + onset;
        var chord = _outline.Chords.IndexAt(at);
        var end = at + (EndOf(bar, index) - onset);
        var sung = _band.Sung.KeysIn(at, end);
        var beneath = Beneath(chord, at, end - at);
        var shape = Shifted(_shapes[chord], _shifts[bar]);
        return shape.Notes
            .Where(other => other.String == note.String + 1 && other.Key > note.Key && IsHoldable(note, other)
                && Clearance.Keeps(other.Key, sung) && !Clearance.Growls(other.Key, beneath) && !Clearance.GrowlingWith(other.Key).Contains(note.Key))
            .Cast<ShapeNote?>().FirstOrDefault();
    }

    private bool IsHoldable(ShapeNote one, ShapeNote two) =>
        FretOf(one) == 0 || FretOf(two) == 0 || Math.Abs(FretOf(one) - FretOf(two)) < _player.Instrument.Stretch;

    // The low keys of other parts there.
    private KeySet Beneath(int chord, Span at, Span length) => _band.Held.KeysIn(at, at + length) | _band.StrummedIn(chord);

    private void AddNote(BarDraft draft, int index)
    {
        var place = draft.Place;
        var bar = place.IndexInRun;
        var onset = _grid.OnsetsIn(bar)[index];
        var unit = onset / place.Meter.Unit;
        var steps = unit.IsInteger ? AccentPlan.StepsAt(place.Meter, place.Felt, place.GroupPlace, (int)unit.Numerator) : -3;
        var lane = _steps[bar][index].Lane;
        var note = _notes[bar][index];
        var starts = unit.IsInteger && place.Meter.GroupStartUnits.Contains((int)unit.Numerator);
        var even = place.Felt == FeltLevel.Unit;
        var full = draft.Task(_part) != PartTask.Full ? 0 : even ? (unit.IsInteger ? EvenFullAccent : 0) : starts ? FullAccent : 0;
        var voice = even ? EvenVoice : RollCells.Finger(lane) == 0 ? LowVoice : 0;
        var written = EndOf(bar, index) - onset;
        var velocity = BaseVelocity + draft.Evenness + steps + full + voice;
        Sound(note, velocity);
        if (Double(bar, index) is { } beside)
        {
            Sound(beside, velocity - 4);
        }

        void Sound(ShapeNote struck, int loudness) => draft.Add(
            new NoteEvent
            {
                Part = _part,
                Role = Role.Roll,
                Onset = onset,
                Length = Ring(bar, index, struck),
                Key = struck.Key,
                String = struck.String,
                Velocity = loudness,
                Stroke = StrokeOf(index, bar),
                Finger = Fingers ? FingerName(lane) : null,
                Written = new WrittenOrigin { Pitch = draft.Spell(struck.Key, onset), Onset = onset, Length = written },
            },
            index);
    }

    // The low voice carries the harmony: root or third on the downbeat, another chord tone on a group start.
    private ShapeNote NoteOf(ChordShape shape, RollStep step, ChordSpan chord, Span onset, BarPlace place)
    {
        var notes = shape.Notes;
        if (!Fingers)
        {
            return onset == Span.Zero
                ? notes.Take(2).Cast<ShapeNote?>().FirstOrDefault(note => IsRootOrThird(chord.Symbol, note!.Value.Key)) ?? notes[0]
                : notes[Math.Min(step.Rung, notes.Count - 1)];
        }

        switch (step.Lane)
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
    private ShapeNote Leading(ShapeNote note, KeySet sung, KeySet beneath)
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
