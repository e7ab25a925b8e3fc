namespace GrooveLab.Exchange.Scores;

/// <summary>A format of scores that can be read.</summary>
public enum ScoreFormat
{
    /// <summary>MusicXML, plain or compressed.</summary>
    MusicXml,

    /// <summary>A Standard MIDI File.</summary>
    Midi,

    /// <summary>A tune in ABC notation.</summary>
    Abc,

    /// <summary>Words with chord names above them.</summary>
    Words,
}
