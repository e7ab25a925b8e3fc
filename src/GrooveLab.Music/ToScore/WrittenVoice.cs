using GrooveLab.Music.Bars;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.ToScore;

/// <summary>A voice of a measure, divided into note values, that becomes events.</summary>
internal sealed class WrittenVoice
{
    private static readonly WrittenValue SingleGrace = new(NoteBase.Eighth), OneOfSeveral = new(NoteBase.Sixteenth);
    private static readonly Grace Slashed = new() { HasSlash = true }, Plain = new();

    private readonly ScoreMeasure _measure;
    private readonly MeasureRhythm _rhythm;
    private readonly ValueList<Beam>[] _beams;
    private readonly RoleMarks _marks;
    private readonly Tuplet[] _tuplets;
    private readonly int[] _around;
    private readonly Tuplet?[] _ofGroups;
    private readonly PrintedAccidental?[]?[] _accidentals;

    public WrittenVoice(
        ScoreMeasure measure, VoiceDraft voice, MeasureRhythm rhythm, List<Piece> pieces, ValueList<Beam>[] beams, RoleMarks marks, ref int tuplets)
    {
        (_measure, Voice, _rhythm, Pieces, _beams, _marks) = (measure, voice, rhythm, pieces, beams, marks);
        _tuplets = rhythm.Regions.Count == 0 ? [] : new Tuplet[rhythm.Regions.Count];
        _around = rhythm.Regions.Count == 0 ? [] : new int[rhythm.Regions.Count];
        for (var i = 0; i < _tuplets.Length; i++)
        {
            _tuplets[i] = new Tuplet(++tuplets, rhythm.Regions[i].Actual, rhythm.Regions[i].Normal);
            _around[i] = rhythm.Regions[i].Around;
        }

        _ofGroups = rhythm.IsAllTuplets ? new Tuplet?[rhythm.Lines.Count] : [];
        for (var i = 0; i + 1 < _ofGroups.Length; i++)
        {
            _ofGroups[i] = new Tuplet(++tuplets, rhythm.Actual, rhythm.Normal);
        }

        _accidentals = new PrintedAccidental?[]?[pieces.Count];
    }

    public ScoreMeasure Measure => _measure;

    public VoiceDraft Voice { get; }

    public List<Piece> Pieces { get; }

    /// <summary>Asks for the accidentals of a piece: its grace notes, then its heads.</summary>
    public void AddAccidentals(int piece, AccidentalWriter writer, Interval toWritten)
    {
        var chord = Voice.Items[Pieces[piece].Item];
        var begins = Begins(piece);
        var graces = begins ? chord.First.Graces : [];
        PrintedAccidental?[]? found = null;
        for (var i = 0; i < graces.Count + chord.Notes.Count; i++)
        {
            var pitch = i < graces.Count ? GracePitch(graces[i], toWritten) : chord.Notes[i - graces.Count].Pitch;
            if (pitch is { } written && writer.Before(written, !begins) is { } sign)
            {
                found ??= new PrintedAccidental?[graces.Count + chord.Notes.Count];
                found[i] = sign;
            }
        }

        _accidentals[piece] = found;
        _toWritten = toWritten;
    }

    private Interval _toWritten;

    private static SpelledPitch? GracePitch(NoteEvent grace, Interval toWritten) =>
        grace.Written.Pitch is { } sounding ? SpelledPitch.Of(sounding).Transpose(toWritten) : null;

    private bool Begins(int piece)
    {
        var one = Pieces[piece];
        return (piece == 0 || Pieces[piece - 1].Item != one.Item) && Voice.Items[one.Item].Onset >= _measure.Start;
    }

    private bool Ends(int piece)
    {
        var one = Pieces[piece];
        return (piece + 1 == Pieces.Count || Pieces[piece + 1].Item != one.Item) && Voice.Items[one.Item].End <= _measure.End;
    }

    /// <summary>The events.</summary>
    /// <param name="cache">Shared objects.</param>
    /// <param name="staff">The number of the staff; null in a part with one staff.</param>
    /// <param name="isFirst">True for the first voice of its staff, which alone shows its rests.</param>
    public List<VoiceEvent> Events(EventCache cache, int? staff, bool isFirst)
    {
        var events = new List<VoiceEvent>(Pieces.Count + 2);
        if (Pieces.TrueForAll(piece => piece.IsRest))
        {
            events.Add(EventCache.WholeRest(_measure.Length, staff));
            return events;
        }

        for (var i = 0; i < Pieces.Count; i++)
        {
            var piece = Pieces[i];
            var value = ValueOf(piece, cache);
            if (piece.IsRest)
            {
                events.Add(value is { Tuplets.Count: 0 } ? cache.Rest(value.Unit, staff, !isFirst)
                    : new RestEvent(value, value is null ? _rhythm.Length(piece.To - piece.From) : null) { Staff = staff, IsHidden = !isFirst });
                continue;
            }

            var chord = Voice.Items[piece.Item];
            var (begins, ends) = (Begins(i), Ends(i));
            var graces = begins ? chord.First.Graces : [];
            for (var g = 0; g < graces.Count; g++)
            {
                var isOne = graces.Count == 1;
                var head = new EventCache.Head(GracePitch(graces[g], _toWritten), graces[g].Key, false, false, _accidentals[i]?[g], staff);
                events.Add(NotesEvent.OfGrace(cache.Single(head), isOne ? Slashed : Plain, isOne ? SingleGrace : OneOfSeveral) with
                {
                    Beams = BeamWriter.OfGrace(g, graces.Count),
                });
            }

            var isTied = IsUntied(chord) ? (false, false) : (!begins, !ends);
            var made = new NotesEvent(Heads(cache, chord, i, graces.Count, isTied, staff), value, value is null ? _rhythm.Length(piece.To - piece.From) : null)
            {
                Beams = _beams[i],
                Marks = _marks.Of(chord, begins, ends),
                Lyrics = begins && chord.First.Lyric is { } lyric ? [lyric] : [],
            };
            events.Add(made);
        }

        return events;
    }

    // A click is not held.
    private static bool IsUntied(ScoredChord chord) => chord.First.Pitch is null;

    private ValueList<WrittenNote> Heads(EventCache cache, ScoredChord chord, int piece, int graces, (bool From, bool To) tied, int? staff)
    {
        if (chord.Notes.Count == 1)
        {
            return cache.Single(HeadOf(0));
        }

        var heads = new WrittenNote[chord.Notes.Count];
        for (var i = 0; i < heads.Length; i++)
        {
            heads[i] = cache.Of(HeadOf(i));
        }

        return ValueList.Create<WrittenNote>(heads);

        EventCache.Head HeadOf(int index) => new(
            chord.Notes[index].Pitch, chord.Notes[index].Played.Key, tied.From, tied.To, _accidentals[piece]?[graces + index], staff);
    }

    private WrittenValue? ValueOf(Piece piece, EventCache cache)
    {
        if (piece.Unit is not { } unit)
        {
            return null;
        }

        if (piece.Region < 0 && _ofGroups.Length == 0)
        {
            return cache.Value(unit);
        }

        var around = new List<Tuplet>();
        for (var region = piece.Region; region >= 0; region = _around[region])
        {
            around.Insert(0, _tuplets[region]);
        }

        if (_ofGroups.Length > 0)
        {
            around.Insert(0, _ofGroups[piece.Group]!);
        }

        return new WrittenValue(unit, [.. around]);
    }
}
