using System.Collections.Immutable;
using System.Diagnostics.CodeAnalysis;

namespace GrooveLab.Music.Harmony;

/// <summary>A chord symbol with its tones: "Am7", "F#m7b5", "C7(b9,#11)", "Gm7/F", "N.C.". Two symbols are equal when they mean the same
/// spelled tones over the same bass, however they are written.</summary>
/// <remarks>Where custom varies: <c>11</c> over a major third omits the third (it sounds as 9sus4); <c>13</c> has no eleventh; <c>alt</c>
/// is 7(#5,#9); <c>C2</c> is add9; <c>Δ</c>, <c>M</c> and <c>maj</c> alone are the triad, before a number or an altered tension the major
/// seventh; <c>C-5</c> is a flat fifth but <c>C-7</c>, <c>C-9</c> are minor; after a number <c>+</c> and <c>-</c> raise and lower. An
/// accidental directly after the letter always belongs to the root: <c>Bb5</c> is the power chord on B flat, a flat fifth on C is
/// <c>C(b5)</c>.</remarks>
public sealed class ChordSymbol : IEquatable<ChordSymbol>
{
    private readonly PitchName _root;
    private readonly PitchName _bass;
    private readonly string _suffix;
    private readonly ChordBuild _build;

    private ChordSymbol()
    {
        _suffix = "";
        _build = new ChordBuild();
        Text = "N.C.";
        Tones = new ChordTones([], null);
        IsNoChord = true;
    }

    internal ChordSymbol(PitchName root, ChordBuild build, PitchName? bass, string suffix, string text)
    {
        _root = root;
        _bass = bass ?? root;
        _suffix = suffix;
        _build = build;
        Text = text;
        var tones = ImmutableArray.CreateBuilder<ChordTone>();
        foreach (var (degree, alteration) in build.Tones())
            tones.Add(new ChordTone(root.Transpose(Interval.FromDegree((int)degree, alteration)), degree, alteration));
        Tones = new ChordTones(tones.ToImmutable(), _bass);
    }

    /// <summary>No chord: N.C.</summary>
    public static ChordSymbol NoChord { get; } = new();

    /// <summary>True for N.C., no chord. It has no root, bass or tones.</summary>
    public bool IsNoChord { get; }

    /// <summary>The spelled root.</summary>
    /// <exception cref="InvalidOperationException">N.C. has no root.</exception>
    public PitchName Root => IsNoChord ? throw new InvalidOperationException("N.C. has no root.") : _root;

    /// <summary>The written bass: the note after the slash, else the root.</summary>
    /// <exception cref="InvalidOperationException">N.C. has no bass.</exception>
    public PitchName Bass => IsNoChord ? throw new InvalidOperationException("N.C. has no bass.") : _bass;

    /// <summary>True when a bass other than the root is written.</summary>
    public bool HasSlashBass => _bass != _root;

    /// <summary>The tones from the root up, each with its degree. Excludes a slash bass that is not a chord tone.</summary>
    public ChordTones Tones { get; }

    /// <summary>The symbol as written, trimmed. After a transposition: the same notation on the new root.</summary>
    public string Text { get; }

    /// <summary>Reads a chord symbol. Never throws, whatever the text.</summary>
    /// <param name="text">The symbol.</param>
    /// <param name="chord">The chord, if valid.</param>
    /// <param name="error">What is wrong and what is accepted, if not valid.</param>
    public static bool TryParse(string? text, [NotNullWhen(true)] out ChordSymbol? chord, [NotNullWhen(false)] out string? error) =>
        ChordSymbolParser.TryParse(text, out chord, out error);

    /// <summary>Reads a chord symbol; see <see cref="TryParse"/>.</summary>
    /// <exception cref="FormatException">The text is not a chord symbol; the message says why.</exception>
    public static ChordSymbol Parse(string text) => TryParse(text, out var chord, out var error) ? chord : throw new FormatException(error);

    /// <summary>The chord transposed by an interval. Root, tones and bass keep their relative spelling; a root or bass that would need
    /// more than two accidentals gets its simplest spelling. N.C. stays N.C.</summary>
    public ChordSymbol Transpose(Interval interval)
    {
        if (IsNoChord)
            return this;
        return WithNames(Writable(_root.Transpose(interval)), Writable(_bass.Transpose(interval)));
    }

    /// <summary>The same chord with at most one accidental on root and bass, for readability: E double flat becomes D.</summary>
    public ChordSymbol Simplified() => IsNoChord ? this : WithNames(_root.Simplified(), _bass.Simplified());

    /// <summary>True when root, bass and tones have the same spelling and degrees.</summary>
    public bool Equals(ChordSymbol? other) =>
        other is not null && IsNoChord == other.IsNoChord && _root == other._root && _bass == other._bass && Tones.SequenceEqual(other.Tones);

    /// <inheritdoc/>
    public override bool Equals(object? obj) => Equals(obj as ChordSymbol);

    /// <inheritdoc/>
    public override int GetHashCode() => HashCode.Combine(IsNoChord, _root, _bass, Tones.PitchClassMask);

    /// <summary>The canonical form: the same for all notations of the chord, and readable by the parser: "Cm7b5" for Cø7 and C-7(b5),
    /// "C7(b9,#11)", "C/E".</summary>
    public override string ToString()
    {
        if (IsNoChord)
            return "N.C.";
        return _root + _build.CanonicalSuffix() + (HasSlashBass ? "/" + _bass : "");
    }

    // The parser cannot read a root with three accidentals.
    private static PitchName Writable(PitchName name) => Math.Abs(name.Accidental) > 2 ? name.Simplified() : name;

    private ChordSymbol WithNames(PitchName root, PitchName bass)
    {
        // A suffix that begins with an accidental would be read as part of a root without one.
        var suffix = _suffix.Length > 0 && _suffix[0] is '#' or 'b' or 'x' or '♯' or '♭' || _suffix.StartsWith('\uD834')
            ? _build.CanonicalSuffix()
            : _suffix;
        return new ChordSymbol(root, _build, bass, suffix, root + suffix + (bass != root ? "/" + bass : ""));
    }
}
