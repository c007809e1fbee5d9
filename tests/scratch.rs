use railstep::analysis::*;
use railstep::trial::excite;
#[test]
fn scratch() {
    struct N; impl railstep::document::Files for N { fn read(&self,_:&str)->Result<String,String>{Err("x".into())} }
    let text=std::fs::read_to_string("netlists/buoy-radio.toml").unwrap();
    let r=railstep::plan::read("b",&text,&N,&Default::default());
    let p=r.plan.unwrap();
    let sys0=railstep::system::System::build(&p.nominal.net(&[]));
    let op=operating_point(&sys0,&sys0.pieces(-1.0),0.0,None).unwrap();
    println!("{:?} {}",op.tried,op.newton_iterations);
    for t in p.chosen(&["transmit burst".into(),"transmit burst, cold aged cell".into()]).unwrap() {
    let v=p.circuit.variant(&t.changes).unwrap();
    let e=excite(t,&v).unwrap();
    let net=v.net(&e.drives);
    let sys=railstep::system::System::build(&net);
    let op=operating_point(&sys,&sys.pieces(-1.0),0.0,None).unwrap();
    for s in [3e-6,3e-7,3e-8,1e-8,1e-9,1e-10,1e-11] {
        let mut tr=Transient::new(&sys,TransientOptions{method:Method::Rodas4p,node_tolerance_v:s,start:Start::OperatingPoint,work_limit:200000});
        let r=tr.run(&op,e.end_s);
        println!("{s:e} {:?} {:?}",tr.work(),r);
    }}
}
