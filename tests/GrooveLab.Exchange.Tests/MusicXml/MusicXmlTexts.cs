using System.Xml.Linq;

namespace GrooveLab.Exchange.Tests.MusicXml;

/// <summary>Our own small scores, for what the collections lack.</summary>
internal static class MusicXmlTexts
{
    /// <summary>A score of one part from the content of its measures; the first sets the divisions per quarter.</summary>
    public static XDocument Score(int divisions, params string[] measures) => MusicXmlFile.Parse(
        "<score-partwise version=\"4.0\"><part-list><score-part id=\"P1\"><part-name>Voice</part-name></score-part></part-list><part id=\"P1\">"
        + string.Concat(measures.Select((measure, index) =>
            $"<measure number=\"{index + 1}\">{(index == 0 ? $"<attributes><divisions>{divisions}</divisions></attributes>" : "")}{measure}</measure>"))
        + "</part></score-partwise>");

    /// <summary>A note: "C5 4 quarter" with its other elements.</summary>
    public static string Note(string pitch, int duration, string type, string rest = "", string before = "", string between = "") =>
        $"<note>{before}<pitch><step>{pitch[0]}</step>{(pitch.Length > 2 ? $"<alter>{pitch[1..^1]}</alter>" : "")}<octave>{pitch[^1]}</octave></pitch>"
        + $"<duration>{duration}</duration>{between}<voice>1</voice><type>{type}</type>{rest}</note>";

    public static XDocument NestedTuplets => Score(
        60,
        Note("C4", 40, "quarter", Modified(3, 2) + "<notations><tuplet type=\"start\" number=\"1\"/></notations>")
        + Note("D4", 16, "16th", Modified(15, 4, "16th") + Tuplet("start", 2, 5, 2, "16th"))
        + Note("E4", 8, "32nd", Modified(15, 4, "16th"))
        + Note("F4", 16, "16th", Modified(15, 4, "16th") + "<notations><tuplet type=\"stop\" number=\"2\"/></notations>")
        + Note("G4", 40, "quarter", Modified(3, 2) + "<notations><tuplet type=\"stop\" number=\"1\"/></notations>")
        + Note("A4", 20, "eighth", Modified(3, 2) + Tuplet("start", 1, 3, 2, "eighth"))
        + Note("A4", 40, "quarter", Modified(3, 2) + "<notations><tuplet type=\"stop\"  number=\"1\"/></notations>")
        + Note("B4", 60, "half", Modified(2, 1))
        + Note("C5", 60, "half", Modified(2, 1)));

    /// <summary>All marks of the schema on notes, and all rare notations of values, pitches, ties and words.</summary>
    public static XDocument EveryMarkOnNotes => MusicXmlFile.Parse(
        """
        <score-partwise version="4.0">
          <work><work-number>7</work-number><work-title>Every mark</work-title></work>
          <movement-number>2</movement-number><movement-title>On notes</movement-title>
          <identification>
            <creator type="composer">Nobody</creator><rights type="words">Free</rights><source>A drawer</source><relation type="see">Another</relation>
          </identification>
          <part-list>
            <score-part id="P1">
              <part-name>Kit</part-name><part-abbreviation>K.</part-abbreviation>
              <score-instrument id="P1-I1"><instrument-name>Drum</instrument-name><instrument-sound>drum.snare-drum</instrument-sound></score-instrument>
              <score-instrument id="P1-I2"><instrument-name>Bell</instrument-name></score-instrument>
              <midi-instrument id="P1-I1"><midi-program>1</midi-program><midi-unpitched>39</midi-unpitched></midi-instrument>
            </score-part>
          </part-list>
          <part id="P1">
            <measure number="1" implicit="yes" non-controlling="yes" text="one">
              <attributes>
                <divisions>8.5</divisions>
                <time><senza-misura>X</senza-misura></time>
              </attributes>
              <note>
                <grace slash="yes" steal-time-following="12.5"/><pitch><step>E</step><alter>-1.5</alter><octave>4</octave></pitch>
                <tie type="start" time-only="1"/><voice>1</voice><type>16th</type><accidental editorial="yes">three-quarters-flat</accidental>
                <beam>begin</beam><beam number="2">forward hook</beam>
                <notations><tied type="start" number="3"/><slur type="start" number="1"/></notations>
                <lyric number="1"><syllabic>begin</syllabic><text>oh</text><extend type="start"/></lyric>
              </note>
              <note>
                <grace slash="yes" steal-time-following="12.5"/><chord/><pitch><step>G</step><alter>0.5</alter><octave>4</octave></pitch>
                <voice>1</voice><type>16th</type>
              </note>
              <note>
                <pitch><step>E</step><alter>-1.5</alter><octave>4</octave></pitch>
                <duration>14.875</duration><tie type="stop"/><tie type="start"/><instrument id="P1-I2"/><voice>1</voice><type>quarter</type><dot/><dot/>
                <accidental cautionary="yes" parentheses="yes" bracket="no">natural-flat</accidental>
                <notehead filled="no" parentheses="yes">diamond</notehead>
                <notehead-text><display-text>la</display-text><accidental-text>sharp</accidental-text></notehead-text>
                <staff>1</staff>
                <notations>
                  <tied type="stop"/><tied type="start"/><slur type="continue" number="1" line-type="dashed"/>
                  <glissando type="start" number="2" line-type="wavy">gliss.</glissando><slide type="start" first-beat="20"/>
                  <ornaments>
                    <trill-mark start-note="upper" trill-step="half" two-note-turn="none" accelerate="yes" beats="3" second-beat="20" last-beat="60"/>
                    <accidental-mark>natural</accidental-mark><accidental-mark>sharp</accidental-mark>
                    <turn slash="yes"/><delayed-turn/><inverted-turn/><delayed-inverted-turn/><vertical-turn/><inverted-vertical-turn/><shake/>
                    <wavy-line type="start" number="1"/><mordent long="yes" approach="above" departure="below"/><inverted-mordent/><schleifer/>
                    <tremolo>3</tremolo><tremolo type="unmeasured">0</tremolo><haydn/><other-ornament smufl="ornamentPrecompSlide">odd</other-ornament>
                  </ornaments>
                  <articulations>
                    <accent/><strong-accent type="down"/><staccato/><tenuto/><detached-legato/><staccatissimo/><spiccato/>
                    <scoop line-shape="curved" line-length="short"/><plop/><doit/><falloff/><breath-mark>comma</breath-mark><caesura>curved</caesura>
                    <stress/><unstress/><soft-accent/><other-articulation>odd</other-articulation>
                  </articulations>
                  <dynamics>
                    <p/><pp/><ppp/><pppp/><ppppp/><pppppp/><f/><ff/><fff/><ffff/><fffff/><ffffff/><mp/><mf/><sf/><sfp/><sfpp/><fp/><rf/><rfz/>
                    <sfz/><sffz/><fz/><n/><pf/><sfzp/><other-dynamics>più</other-dynamics>
                  </dynamics>
                  <fermata type="upright">angled</fermata>
                  <arpeggiate number="1" direction="down" unbroken="yes"/>
                  <accidental-mark>double-sharp</accidental-mark>
                  <other-notation type="single">odd</other-notation>
                </notations>
                <lyric number="1" name="verse" time-only="1,2">
                  <syllabic>middle</syllabic><text>re-sound</text><elision>‿</elision><syllabic>begin</syllabic><text>and</text><extend/>
                  <end-line/><end-paragraph/>
                </lyric>
                <lyric number="2" print-object="no"><text>oh</text><text>ho</text></lyric>
                <lyric number="3"><humming/></lyric>
                <lyric number="4"><laughing/></lyric>
                <lyric number="5"><extend type="stop"/></lyric>
              </note>
              <note print-object="no" time-only="2">
                <chord/><pitch><step>C</step><alter>3</alter><octave>5</octave></pitch>
                <duration>14.875</duration><tie type="start"/><voice>1</voice><type>quarter</type><dot/><dot/><staff>2</staff>
                <notations>
                  <tied type="let-ring"/><non-arpeggiate type="top" number="1"/>
                  <technical>
                    <up-bow/><down-bow/><harmonic><artificial/><touching-pitch/></harmonic><harmonic><natural/><base-pitch/></harmonic>
                    <harmonic><sounding-pitch/></harmonic><open-string/><thumb-position/><fingering substitution="yes" alternate="no">3-1</fingering>
                    <pluck>p</pluck><double-tongue/><triple-tongue/><stopped/><snap-pizzicato/><fret>5</fret><string>2</string>
                    <hammer-on type="start" number="1">H</hammer-on><pull-off type="start" number="2">P</pull-off>
                    <bend shape="curved"><bend-alter>1.5</bend-alter><pre-bend/><with-bar>scoop</with-bar></bend>
                    <bend><bend-alter>2</bend-alter><release/></bend>
                    <tap hand="left">T</tap><heel substitution="yes"/><toe/><fingernails/>
                    <hole><hole-type>thumb</hole-type><hole-closed location="top">half</hole-closed><hole-shape>round</hole-shape></hole>
                    <arrow><arrow-direction>up</arrow-direction><arrow-style>single</arrow-style><arrowhead/></arrow>
                    <arrow><circular-arrow>clockwise</circular-arrow></arrow>
                    <handbell>damp</handbell><brass-bend/><flip/><smear/><open/><half-muted/>
                    <harmon-mute><harmon-closed location="left">half</harmon-closed></harmon-mute><golpe/><other-technical>odd</other-technical>
                  </technical>
                </notations>
              </note>
              <note>
                <grace steal-time-previous="30" make-time="4.25"/><cue/><pitch><step>D</step><octave>5</octave></pitch><voice>1</voice><type>1024th</type>
              </note>
              <backup><duration>14.875</duration></backup>
              <forward><duration>8.5</duration><voice>drums</voice><staff>2</staff></forward>
              <note>
                <unpitched><display-step>C</display-step><display-octave>5</display-octave></unpitched>
                <duration>4.25</duration><instrument id="P1-I1"/><voice>drums</voice><type>eighth</type><notehead>x</notehead><staff>2</staff>
                <notations>
                  <slide type="stop"/><glissando type="stop" number="2" line-type="wavy"/><slur type="stop" number="1"/>
                  <technical><hammer-on type="stop" number="1"/><pull-off type="stop" number="2"/></technical>
                  <ornaments><wavy-line type="stop" number="1"/><tremolo type="start">2</tremolo></ornaments>
                </notations>
              </note>
              <note>
                <cue/><rest><display-step>B</display-step><display-octave>4</display-octave></rest><duration>4.25</duration><voice>drums</voice>
                <type>eighth</type><staff>2</staff><notations><fermata/></notations>
              </note>
              <note>
                <unpitched/><duration>34</duration><voice>drums</voice><type>eighth</type>
                <notations><ornaments><tremolo type="stop">2</tremolo></ornaments></notations>
              </note>
              <note><cue/><pitch><step>A</step><octave>3</octave></pitch><duration>68</duration><voice>drums</voice><type>breve</type></note>
            </measure>
            <measure number="2">
              <note><rest measure="yes"/><duration>17</duration></note>
              <note print-object="no"><rest/><duration>17</duration><type>whole</type></note>
              <forward><duration>17</duration></forward>
              <note>
                <pitch><step>A</step><octave>3</octave></pitch><duration>34</duration><type>long</type>
                <time-modification><actual-notes>8</actual-notes><normal-notes>1</normal-notes><normal-type>whole</normal-type><normal-dot/></time-modification>
                <notations>
                  <tuplet type="start" number="2">
                    <tuplet-actual><tuplet-number>8</tuplet-number><tuplet-type>quarter</tuplet-type><tuplet-dot/></tuplet-actual>
                    <tuplet-normal><tuplet-number>1</tuplet-number><tuplet-type>maxima</tuplet-type></tuplet-normal>
                  </tuplet>
                </notations>
              </note>
              <note>
                <rest/><duration>8.5</duration><type>whole</type>
                <time-modification><actual-notes>8</actual-notes><normal-notes>1</normal-notes></time-modification>
                <notations><tuplet type="stop" number="2"/></notations>
              </note>
            </measure>
          </part>
        </score-partwise>
        """);

    /// <summary>All signs of the schema besides the notes.</summary>
    public static XDocument EverySignBeside => MusicXmlFile.Parse(
        """
        <score-partwise version="4.0">
          <part-list>
            <score-part id="P1"><part-name>Clarinet</part-name></score-part>
            <score-part id="P2"><part-name>Piano</part-name></score-part>
          </part-list>
          <part id="P1">
            <measure number="1">
              <attributes>
                <divisions>4</divisions>
                <key><cancel>-2</cancel><fifths>3</fifths><mode>dorian</mode><key-octave number="1" cancel="yes">4</key-octave></key>
                <time symbol="note">
                  <beats>3+2</beats><beat-type>8</beat-type><beats>1</beats><beat-type>4</beat-type>
                  <interchangeable symbol="common"><time-relation>slash</time-relation><beats>6</beats><beat-type>8</beat-type></interchangeable>
                </time>
                <clef number="1"><sign>G</sign><line>1</line><clef-octave-change>-1</clef-octave-change></clef>
                <transpose number="1"><diatonic>-1</diatonic><chromatic>-2</chromatic><octave-change>-1</octave-change><double above="yes"/></transpose>
                <directive>Slow</directive>
              </attributes>
              <barline location="left">
                <bar-style>heavy-light</bar-style><wavy-line type="start" number="1"/><fermata>square</fermata><ending number="1, 2" type="start">first</ending>
                <repeat direction="forward"/>
              </barline>
              <direction directive="yes">
                <direction-type><words>Lively</words></direction-type>
                <direction-type>
                  <metronome parentheses="yes"><beat-unit>quarter</beat-unit><beat-unit-dot/><beat-unit-tied><beat-unit>eighth</beat-unit><beat-unit-dot/></beat-unit-tied><per-minute>ca. 72.5</per-minute></metronome>
                </direction-type>
                <voice>1</voice><staff>1</staff>
                <sound tempo="108.75"><swing><first>2</first><second>1</second><swing-type>eighth</swing-type><swing-style>shuffle</swing-style></swing></sound>
              </direction>
              <direction><direction-type><rehearsal>A</rehearsal></direction-type><offset>-1</offset></direction>
              <direction><direction-type><segno/></direction-type><sound segno="s1"/></direction>
              <direction><direction-type><coda/></direction-type></direction>
              <direction>
                <direction-type><dynamics><p/></dynamics></direction-type>
                <direction-type><dynamics><other-dynamics>dolce</other-dynamics><pppppp/></dynamics></direction-type>
                <offset sound="yes">2</offset><staff>1</staff><sound dynamics="54.44"/>
              </direction>
              <direction><direction-type><wedge type="crescendo" number="1" niente="yes"/></direction-type></direction>
              <direction><direction-type><words>legato</words><symbol>brassMuteOpen</symbol></direction-type></direction>
              <direction><direction-type><dashes type="start" number="1"/></direction-type></direction>
              <direction><direction-type><bracket type="start" number="2" line-end="up" line-type="dashed"/></direction-type></direction>
              <direction><direction-type><pedal type="start" line="yes" sign="no" abbreviated="yes" number="1"/></direction-type><sound damper-pedal="yes"/></direction>
              <direction><direction-type><octave-shift type="down" size="15" number="1"/></direction-type></direction>
              <direction><direction-type><harp-pedals><pedal-tuning><pedal-step>D</pedal-step><pedal-alter>-1</pedal-alter></pedal-tuning></harp-pedals></direction-type></direction>
              <direction><direction-type><damp/></direction-type></direction>
              <direction><direction-type><damp-all/></direction-type></direction>
              <direction><direction-type><eyeglasses/></direction-type></direction>
              <direction><direction-type><string-mute type="on"/></direction-type></direction>
              <direction><direction-type><scordatura><accord string="4"><tuning-step>E</tuning-step><tuning-alter>-0.5</tuning-alter><tuning-octave>2</tuning-octave></accord></scordatura></direction-type></direction>
              <direction><direction-type><image source="a.png" type="image/png"/></direction-type></direction>
              <direction><direction-type><principal-voice type="start" symbol="Hauptstimme">H</principal-voice></direction-type></direction>
              <direction>
                <direction-type>
                  <percussion><glass smufl="pictGlassHarp">glass harp</glass></percussion><percussion><metal>gong</metal></percussion>
                  <percussion><wood>claves</wood></percussion><percussion><pitched>marimba</pitched></percussion>
                  <percussion><membrane>tabla</membrane></percussion><percussion><effect>siren</effect></percussion><percussion><timpani/></percussion>
                  <percussion><beater tip="up">bow</beater></percussion>
                  <percussion><stick tip="down" parentheses="yes" dashed-circle="no"><stick-type>gum</stick-type><stick-material>soft</stick-material></stick></percussion>
                  <percussion><stick-location>rim</stick-location></percussion><percussion><other-percussion>pan</other-percussion></percussion>
                </direction-type>
              </direction>
              <direction>
                <direction-type><accordion-registration><accordion-high/><accordion-middle>2</accordion-middle><accordion-low/></accordion-registration></direction-type>
              </direction>
              <direction><direction-type><staff-divide type="up-down"/></direction-type></direction>
              <direction><direction-type><other-direction print-object="no">odd</other-direction></direction-type></direction>
              <harmony type="implied" print-object="no">
                <root><root-step text="">B</root-step><root-alter>-1</root-alter></root><kind text="m7">minor-seventh</kind><inversion>2</inversion>
                <bass><bass-step>A</bass-step><bass-alter>0.5</bass-alter></bass>
                <degree><degree-value>9</degree-value><degree-alter>-1</degree-alter><degree-type>add</degree-type></degree>
                <degree><degree-value>5</degree-value><degree-alter>1</degree-alter><degree-type>alter</degree-type></degree>
                <frame>
                  <frame-strings>6</frame-strings><frame-frets>5</frame-frets><first-fret text="5fr">5</first-fret>
                  <frame-note><string>5</string><fret>1</fret><fingering>1</fingering><barre type="start"/></frame-note>
                </frame>
                <offset>3</offset><staff>1</staff>
              </harmony>
              <harmony>
                <numeral><numeral-root text="V">5</numeral-root><numeral-alter>-1</numeral-alter><numeral-key><numeral-fifths>2</numeral-fifths><numeral-mode>harmonic minor</numeral-mode></numeral-key></numeral>
                <kind>dominant</kind><function>V/ii</function><kind>none</kind>
              </harmony>
              <figured-bass><figure><prefix>flat</prefix><figure-number>6</figure-number><suffix>slash</suffix><extend type="start"/></figure><duration>2</duration></figured-bass>
              <note><pitch><step>C</step><octave>5</octave></pitch><duration>6</duration><voice>1</voice><type>quarter</type><dot/></note>
              <barline location="middle"><bar-style>dashed</bar-style></barline>
              <sound tempo="60.125"><offset>1</offset></sound>
              <sound pizzicato="yes" soft-pedal="33.5" sostenuto-pedal="no"/>
              <sound><swing><straight/></swing></sound>
              <direction>
                <direction-type><words>go over</words></direction-type>
                <direction-type><metronome><beat-unit>quarter</beat-unit><beat-unit>eighth</beat-unit><beat-unit-dot/></metronome></direction-type>
              </direction>
              <direction>
                <direction-type>
                  <metronome print-object="no">
                    <metronome-arrows/>
                    <metronome-note><metronome-type>eighth</metronome-type><metronome-dot/><metronome-beam number="1">begin</metronome-beam><metronome-tied type="start"/></metronome-note>
                    <metronome-relation>equals</metronome-relation>
                    <metronome-note>
                      <metronome-type>quarter</metronome-type>
                      <metronome-tuplet type="start" bracket="yes" show-number="actual">
                        <actual-notes>3</actual-notes><normal-notes>2</normal-notes><normal-type>eighth</normal-type><normal-dot/>
                      </metronome-tuplet>
                    </metronome-note>
                  </metronome>
                </direction-type>
              </direction>
              <note><rest/><duration>8</duration><voice>1</voice><type>half</type></note>
              <direction><direction-type><wedge type="stop" number="1"/></direction-type></direction>
              <direction><direction-type><dashes type="stop" number="1"/></direction-type></direction>
              <direction><direction-type><bracket type="stop" number="2" line-end="arrow"/></direction-type></direction>
              <direction><direction-type><pedal type="change" number="1"/></direction-type></direction>
              <direction><direction-type><octave-shift type="stop" size="15" number="1"/></direction-type></direction>
              <direction system="only-top"><direction-type><words>D.S. al Coda</words></direction-type><sound dalsegno="s1" time-only="1,2"/></direction>
              <direction><direction-type><words>To Coda</words></direction-type><sound tocoda="c1"/></direction>
              <sound fine="yes"/><sound dacapo="yes"/><sound forward-repeat="yes"/><sound coda="c1"/>
              <barline segno="s2" coda="c2">
                <segno/><coda/><fermata type="inverted"/><ending number="1, 2" type="stop"/><repeat direction="backward" times="3" after-jump="yes"/>
              </barline>
            </measure>
            <measure number="X1" implicit="yes">
              <attributes>
                <key number="1" print-object="no"><key-step>F</key-step><key-alter>0.5</key-alter><key-accidental>quarter-sharp</key-accidental><key-step>B</key-step><key-alter>-1</key-alter></key>
                <time print-object="no"><beats>2</beats><beat-type>4</beat-type></time>
              </attributes>
              <barline location="left"><ending number="3" type="start" print-object="no"/></barline>
              <note><rest/><duration>8</duration><voice>1</voice><type>half</type></note>
              <barline location="right"><ending number="3" type="discontinue"/></barline>
            </measure>
          </part>
          <part id="P2">
            <measure number="1">
              <attributes>
                <divisions>2</divisions><key><fifths>0</fifths></key><staves>2</staves>
                <staff-details number="2" show-frets="letters">
                  <staff-type>ossia</staff-type><staff-lines>6</staff-lines><line-detail line="1" line-type="dotted" print-object="no"/>
                  <staff-tuning line="1"><tuning-step>D</tuning-step><tuning-octave>2</tuning-octave></staff-tuning><capo>2</capo><staff-size scaling="80">75</staff-size>
                </staff-details>
                <for-part number="1"><part-clef><sign>F</sign></part-clef><part-transpose><chromatic>-3</chromatic></part-transpose></for-part>
                <measure-style><multiple-rest use-symbols="yes">2</multiple-rest></measure-style>
                <measure-style number="1"><measure-repeat type="start" slashes="2">1</measure-repeat></measure-style>
                <measure-style number="2"><beat-repeat type="start" slashes="3" use-dots="yes"><slash-type>eighth</slash-type><slash-dot/><except-voice>2</except-voice></beat-repeat></measure-style>
                <measure-style><slash type="start" use-stems="yes"/></measure-style>
              </attributes>
              <barline location="left"><repeat direction="forward"/></barline>
              <note><rest measure="yes"/><duration>7</duration><voice>1</voice><staff>1</staff></note>
              <backup><duration>7</duration></backup>
              <note><rest measure="yes"/><duration>7</duration><voice>5</voice><staff>2</staff></note>
            </measure>
            <measure number="X1" implicit="yes">
              <attributes>
                <key number="2"><fifths>-1</fifths></key>
                <time><beats>2</beats><beat-type>4</beat-type></time>
              </attributes>
              <note><pitch><step>C</step><octave>4</octave></pitch><duration>2</duration><voice>1</voice><type>quarter</type><staff>1</staff></note>
              <note><pitch><step>C</step><octave>3</octave></pitch><duration>2</duration><voice>1</voice><type>quarter</type><staff>2</staff></note>
              <backup><duration>3</duration></backup>
              <note><pitch><step>G</step><octave>3</octave></pitch><duration>2</duration><voice>1</voice><type>quarter</type><staff>2</staff></note>
            </measure>
          </part>
        </score-partwise>
        """);

    public static IEnumerable<(string Name, XDocument Score)> All =>
    [
        ("nested tuplets", NestedTuplets), ("every mark on notes", EveryMarkOnNotes), ("every sign beside", EverySignBeside),
    ];

    private static string Modified(int actual, int normal, string? type = null) =>
        $"<time-modification><actual-notes>{actual}</actual-notes><normal-notes>{normal}</normal-notes>"
        + $"{(type is null ? "" : $"<normal-type>{type}</normal-type>")}</time-modification>";

    private static string Tuplet(string type, int number, int actual, int normal, string unit) =>
        $"<notations><tuplet type=\"{type}\" number=\"{number}\"><tuplet-actual><tuplet-number>{actual}</tuplet-number><tuplet-type>{unit}</tuplet-type></tuplet-actual>"
        + $"<tuplet-normal><tuplet-number>{normal}</tuplet-number><tuplet-type>{unit}</tuplet-type></tuplet-normal></tuplet></notations>";
}
