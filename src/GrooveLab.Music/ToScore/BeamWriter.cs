using GrooveLab.Music.Notation;

namespace GrooveLab.Music.ToScore;

/// <summary>Beams the notes of a voice so that the groups of the meter can be seen: no beam crosses a group line.</summary>
/// <remarks>Common practice, no source.</remarks>
internal static class BeamWriter
{
    private static readonly ValueList<Beam> Begun = [Beam.Begin], Going = [Beam.Continue], Ended = [Beam.End];

    // Eighths, sixteenths and so on: the number of beams.
    private static int Levels(NoteUnit unit) => unit.Base >= NoteBase.Quarter ? 0 : (int)NoteBase.Quarter - (int)unit.Base;

    /// <summary>The beams of each piece of a voice; empty for notes with flags, long notes and rests.</summary>
    public static ValueList<Beam>[] Of(MeasureRhythm rhythm, IReadOnlyList<Piece> pieces)
    {
        var beams = new ValueList<Beam>[pieces.Count];
        Array.Fill(beams, []);
        for (int first = 0, after; first < pieces.Count; first = after)
        {
            after = first + 1;
            if (!Takes(pieces[first]))
            {
                continue;
            }

            var cell = Cell(rhythm, pieces, first);
            while (after < pieces.Count && Takes(pieces[after]) && Cell(rhythm, pieces, after) == cell)
            {
                after++;
            }

            if (after - first > 1)
            {
                Join(pieces, first, after, beams);
            }
        }

        return beams;
    }

    /// <summary>The beams of a number of grace notes: none for one, two beams each for several.</summary>
    public static ValueList<Beam> OfGrace(int index, int count) =>
        count < 2 ? [] : index == 0 ? [Beam.Begin, Beam.Begin] : index == count - 1 ? [Beam.End, Beam.End] : [Beam.Continue, Beam.Continue];

    private static bool Takes(Piece piece) => !piece.IsRest && piece.Unit is { } unit && Levels(unit) > 0;

    // What is beamed together: a group, in slow units a part of it; always inside one tuplet.
    private static (int Group, long Part, int Region) Cell(MeasureRhythm rhythm, IReadOnlyList<Piece> pieces, int index)
    {
        var piece = pieces[index];
        var start = rhythm.Lines[piece.Group];
        var quarter = rhythm.Resolution / 4;
        if (rhythm.Unit < quarter)
        {
            return (piece.Group, 0, piece.Region);
        }

        var units = (rhythm.Lines[piece.Group + 1] - start) / rhythm.Unit;
        var isPlain = rhythm.Unit == quarter && units is 2 or 3 or 4 && !HasShort(rhythm, pieces, piece.Group);
        var width = !isPlain ? quarter : units == 4 ? 2 * quarter : units * quarter;
        return (piece.Group, (piece.From - start) / width, piece.Region);
    }

    private static bool HasShort(MeasureRhythm rhythm, IReadOnlyList<Piece> pieces, int group)
    {
        foreach (var piece in pieces)
        {
            if (piece.Group == group && piece.From < rhythm.Lines[group + 1] && (piece.Region >= 0 || (piece.Unit is { } unit && Levels(unit) > 1)))
            {
                return true;
            }
        }

        return false;
    }

    private static void Join(IReadOnlyList<Piece> pieces, int first, int after, ValueList<Beam>[] beams)
    {
        for (var i = first; i < after; i++)
        {
            var own = Levels(pieces[i].Unit!.Value);
            var before = i > first ? Levels(pieces[i - 1].Unit!.Value) : 0;
            var next = i + 1 < after ? Levels(pieces[i + 1].Unit!.Value) : 0;
            if (own == 1)
            {
                beams[i] = before == 0 ? Begun : next == 0 ? Ended : Going;
                continue;
            }

            var list = new Beam[own];
            for (var level = 1; level <= own; level++)
            {
                list[level - 1] = (before >= level, next >= level) switch
                {
                    (true, true) => Beam.Continue,
                    (true, false) => Beam.End,
                    (false, true) => Beam.Begin,
                    _ => before == 0 || (next != 0 && IsOnTheBeat(pieces[i])) ? Beam.ForwardHook : Beam.BackwardHook,
                };
            }

            beams[i] = ValueList.Create<Beam>(list);
        }
    }

    // A short note at the start of its pair points forward, the short note after a dotted one back.
    private static bool IsOnTheBeat(Piece piece) => piece.From % (2 * (piece.To - piece.From)) == 0;
}
