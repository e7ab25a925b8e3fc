using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.MusicXml;

/// <summary>Adds the jumps that stand in a score only as words and signs, marked as inferred. Words beside a jump for playback say nothing
/// more; words that contradict the other signs are left as words, with a warning.</summary>
internal static class JumpsFromWords
{
    // The order is only tried for scores with few jumps, so that its work stays small.
    private const int MostJumps = 64;

    public static void Add(Measure[] measures, IReadOnlyList<WordJump> words, MusicXmlRemarks remarks)
    {
        var jumps = words.Where(word => !IsPlayed(measures[word.Measure], word.Kind))
            .GroupBy(word => (word.Measure, word.Kind))
            .Select(group => group.First())
            .ToList();
        if (jumps.Count == 0 || (!jumps.Exists(IsBack) && !measures.Any(measure => Jumps(measure).Any(IsPlayedBack))))
        {
            return;
        }

        var before = (Measure[])measures.Clone();
        foreach (var target in new[] { JumpKind.Segno, JumpKind.Coda })
        {
            // A sign or a playback target leads; the word beside it, or as a section's name, adds none.
            if (measures.Any(measure => Jumps(measure).Any(jump => jump.Kind == target)))
            {
                jumps.RemoveAll(word => word.Kind == target);
            }
        }

        var leads = jumps.Where(word => word.Kind == JumpKind.ToCoda).Select(word => word.Measure).ToHashSet();
        var coda = jumps.FirstOrDefault(word => word.ToCoda);
        if (coda is not null && leads.Count == 0 && !measures.Any(measure => Jumps(measure).Any(jump => jump.Kind == JumpKind.ToCoda)))
        {
            // Two signs and "al Coda": the sign before the jump leads to the one behind it.
            var signs = Enumerable.Range(0, measures.Length).Where(index => Jumps(measures[index]).Any(IsSilentCoda)).ToList();
            if (signs.Exists(index => index > coda.Measure))
            {
                leads.UnionWith(signs.Where(index => index <= coda.Measure));
            }
        }

        var signed = new HashSet<int>();
        foreach (var index in leads)
        {
            if (Jumps(measures[index]).Any(IsSilentCoda))
            {
                measures[index] = measures[index] with { Marks = [.. measures[index].Marks.Select(AsLead)] };
                signed.Add(index);
            }
        }

        jumps.RemoveAll(word => word.Kind == JumpKind.ToCoda && signed.Contains(word.Measure));

        foreach (var word in jumps)
        {
            var made = new JumpMark(word.At, word.Kind) { Provenance = Provenance.Inferred, Origin = word.Origin };
            measures[word.Measure] = measures[word.Measure] with { Marks = Inserted(measures[word.Measure].Marks, made) };
        }

        if (!IsFollowed(measures, out var why) && IsFollowed(before, out _))
        {
            before.CopyTo(measures, 0);
            remarks.Path = jumps.Count > 0 ? jumps[0].Origin.Path : null;
            remarks.Warn(
                jumps.Count > 0 ? jumps[0].Origin.Line : null,
                $"the words for jumps cannot be followed: {why.TrimEnd('.')}",
                "kept as words only; the measures are read in order");
        }
    }

    private static IEnumerable<JumpMark> Jumps(Measure measure) => measure.Marks.OfType<JumpMark>();

    private static bool IsBack(WordJump word) => word.Kind is JumpKind.DaCapo or JumpKind.DalSegno;

    private static bool IsPlayedBack(JumpMark jump) => jump.Sounds && jump.Kind is JumpKind.DaCapo or JumpKind.DalSegno;

    private static bool IsPlayed(Measure measure, JumpKind kind) => Jumps(measure).Any(jump => jump.Kind == kind && jump.Sounds);

    private static bool IsSilentCoda(JumpMark jump) => jump is { Kind: JumpKind.Coda, Sounds: false };

    private static MeasureMark AsLead(MeasureMark mark) => mark is JumpMark jump && IsSilentCoda(jump)
        ? new JumpMark(jump.At, JumpKind.ToCoda) { IsDrawn = true, Where = jump.Where, Origin = jump.Origin, Provenance = Provenance.Inferred }
        : mark;

    private static ValueList<MeasureMark> Inserted(ValueList<MeasureMark> marks, MeasureMark mark) =>
        [.. marks.TakeWhile(one => one.At <= mark.At), mark, .. marks.SkipWhile(one => one.At <= mark.At)];

    private static bool IsFollowed(Measure[] measures, out string why)
    {
        why = "";
        if (measures.Sum(measure => Jumps(measure).Count()) > MostJumps)
        {
            return true;
        }

        try
        {
            Unfolding.Order(measures);
            return true;
        }
        catch (UnfoldException found)
        {
            why = found.Message;
            return false;
        }
    }
}
