using System.Numerics;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.MusicXml;

/// <summary>A tuplet whose sign has begun.</summary>
internal sealed class OpenTuplet(string? number, XmlItem sign, int depth, bool onGrace)
{
    public string? Number { get; } = number;

    public XmlItem Sign { get; } = sign;

    public int Depth { get; } = depth;

    /// <summary>Grace notes inside a tuplet of full notes do not belong to it.</summary>
    public bool OnGrace { get; } = onGrace;

    /// <summary>The first note in it.</summary>
    public EventDraft? First { get; private set; }

    /// <summary>The first note in it that is in no deeper tuplet.</summary>
    public EventDraft? Alone { get; private set; }

    public bool HasRatio { get; private set; }

    public Tuplet? Made { get; set; }

    public void Take(EventDraft draft)
    {
        First ??= draft;
        Alone ??= draft.In!.Count == Depth + 1 ? draft : null;
        HasRatio |= draft.Ratio is not null;
    }
}

/// <summary>Finds the tuplets of each note of a part. A nested tuplet has its own share of the ratio that its notes state.</summary>
internal sealed class TupletFinder(MusicXmlRemarks remarks)
{
    private readonly Dictionary<string, Voice> _voices = new(StringComparer.Ordinal);
    private int _id;

    private sealed class Voice
    {
        public List<OpenTuplet> Open { get; } = [];

        public List<OpenTuplet> Begun { get; } = [];

        // A ratio without a sign, as of a tremolo; adjacent notes with the same ratio share it.
        public Tuplet? Bare { get; set; }
    }

    /// <summary>How many tuplets have begun and not ended.</summary>
    public int OpenCount { get; private set; }

    /// <summary>Takes the next note of a voice in the order of the file.</summary>
    public void Take(EventDraft draft)
    {
        var voice = _voices.GetValueOrDefault(draft.Voice);
        if (voice is null)
        {
            voice = new Voice();
            _voices.Add(draft.Voice, voice);
        }

        if (draft.TupletSigns is null && voice.Open.Count == 0)
        {
            return;
        }

        CloseForgotten(voice, draft);
        foreach (var sign in draft.TupletSigns ?? [])
        {
            if (sign.Attribute("type") != "start")
            {
                continue;
            }

            if (voice.Open.Count == WrittenValue.DeepestNesting)
            {
                remarks.Warn(sign.Line, "tuplets are nested more than eight deep", "left out the inner ones");
                continue;
            }

            var begun = new OpenTuplet(sign.Attribute("number"), sign, voice.Open.Count, draft.Grace is not null);
            voice.Open.Add(begun);
            voice.Begun.Add(begun);
            OpenCount++;
        }

        draft.In = [.. voice.Open.Where(one => draft.IsFull || one.OnGrace)];
        foreach (var one in draft.In)
        {
            one.Take(draft);
        }

        foreach (var sign in draft.TupletSigns ?? [])
        {
            if (sign.Attribute("type") == "stop" && voice.Open.Count > 0)
            {
                var number = sign.Attribute("number");
                var closed = voice.Open.FindLastIndex(one => one.Number == number);
                voice.Open.RemoveAt(closed < 0 ? voice.Open.Count - 1 : closed);
                OpenCount--;
            }
        }
    }

    /// <summary>Ends all tuplets that are open.</summary>
    public void CloseAll(int line)
    {
        foreach (var voice in _voices.Values.Where(voice => voice.Open.Count > 0))
        {
            remarks.Warn(line, "a tuplet has no end", "ended it here");
            OpenCount -= voice.Open.Count;
            voice.Open.Clear();
        }
    }

    /// <summary>Gives the notes taken since the last call their tuplets; none may be open.</summary>
    public void Finish(IEnumerable<EventDraft> drafts)
    {
        foreach (var voice in _voices.Values)
        {
            // An outer tuplet is known before the ones inside it.
            foreach (var one in voice.Begun.OrderBy(one => one.Depth))
            {
                one.Made = Make(one);
            }

            voice.Begun.Clear();
        }

        foreach (var draft in drafts)
        {
            var voice = _voices[draft.Voice];
            if (draft.In is null && draft.Ratio is null)
            {
                voice.Bare = null;
                continue;
            }

            try
            {
                draft.Tuplets = TupletsOf(draft, voice);
            }
            catch (OverflowException)
            {
                remarks.Warn(draft.Line, "the ratio of a tuplet is too fine", "kept the duration only");
            }
        }
    }

    // A note with its plain value after notes with a ratio is behind the tuplet, even if its end is missing.
    private void CloseForgotten(Voice voice, EventDraft draft)
    {
        while (voice.Open.Count > 0 && draft.Ratio is null && draft.Grace is null && voice.Open[^1].HasRatio)
        {
            remarks.Warn(voice.Open[^1].Sign.Line, "a tuplet has no end", "ended it before the next plain note");
            voice.Open.RemoveAt(voice.Open.Count - 1);
            OpenCount--;
        }
    }

    private Tuplet[] TupletsOf(EventDraft draft, Voice voice)
    {
        var tuplets = (draft.In ?? []).ConvertAll(one => one.Made!);
        var product = tuplets.Aggregate(Rational.One, (ratio, tuplet) => ratio * tuplet.Ratio);
        var stated = draft.Ratio is { } told ? new Rational(told.Normal, told.Actual) : Rational.One;
        if (product == stated)
        {
            voice.Bare = null;
            return [.. tuplets];
        }

        var own = stated / product;
        var (actual, normal) = tuplets.Count == 0 ? draft.Ratio!.Value : (checked((int)own.Denominator), checked((int)own.Numerator));
        voice.Bare = voice.Bare is { } bare && bare.Actual == actual && bare.Normal == normal
            ? bare
            : new Tuplet(++_id, actual, normal) { IsDrawn = false };
        return tuplets.Count < WrittenValue.DeepestNesting ? [.. tuplets, voice.Bare] : [.. tuplets];
    }

    private Tuplet Make(OpenTuplet open)
    {
        var shownActual = Side(open.Sign.Element("tuplet-actual"));
        var shownNormal = Side(open.Sign.Element("tuplet-normal"));
        var (actual, normal) = (1, 1);
        var outer = (open.First?.In ?? []).Take(open.Depth).Select(one => one.Made).OfType<Tuplet>().ToList();
        if (open.Alone?.Ratio is { } ratio)
        {
            (actual, normal) = Share(ratio, outer);
        }
        else if (!open.HasRatio)
        {
            // A bracket over notes whose values are not changed.
        }
        else if (shownActual?.Number is >= 1 and <= MusicXmlLimits.LargestCount and var many
            && shownNormal?.Number is >= 1 and <= MusicXmlLimits.LargestCount and var of)
        {
            (actual, normal) = (many, of);
        }
        else if (open.First?.Ratio is { } whole)
        {
            (actual, normal) = Share(whole, outer);
        }

        return new Tuplet(++_id, actual, normal) { ShownActual = shownActual, ShownNormal = shownNormal };
    }

    private static (int Actual, int Normal) Share((int Actual, int Normal) whole, List<Tuplet> outer)
    {
        var actual = outer.Aggregate(BigInteger.One, (product, tuplet) => product * tuplet.Actual);
        var normal = outer.Aggregate(BigInteger.One, (product, tuplet) => product * tuplet.Normal);
        if (whole.Actual % actual == 0 && whole.Normal % normal == 0)
        {
            return ((int)(whole.Actual / actual), (int)(whole.Normal / normal));
        }

        var (below, above) = (whole.Actual * normal, whole.Normal * actual);
        var divisor = BigInteger.GreatestCommonDivisor(below, above);
        (below, above) = (below / divisor, above / divisor);
        return below <= int.MaxValue && above <= int.MaxValue ? ((int)below, (int)above) : whole;
    }

    private static TupletSide? Side(XmlItem? side) => side is null
        ? null
        : new TupletSide(
            MusicXmlValues.Int(side.Text("tuplet-number")),
            MusicXmlValues.Unit(side.Text("tuplet-type"), side.Elements("tuplet-dot").Count()));
}
